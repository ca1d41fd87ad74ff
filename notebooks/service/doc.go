// Package service shows notebooks, runs, orders and the form desk as pages, on
// the machine the book lies on.
//
//  1. A Config names the Workshop (the book and what can be done with it) and
//     the folders beside it. New makes a Server of it.
//  2. Each request passes the guard: Host on the list, same origin, size and
//     time limits, who is asking and what they may do, security headers.
//  3. A handler fills a typed struct and renders it with its template into a
//     buffer; only a whole page is sent. Nothing changes by GET.
//  4. What changes something leaves a line in the audit file.
//
// No page asks for anything outside the service: style and the little script
// there is are its own, and a content security policy keeps it so.
package service
