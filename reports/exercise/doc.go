// Package exercise shows forms to practise on, on a page and on paper.
//
//  1. Draw is the tracings of a form as the pencil left them, with rings where
//     something is wrong once that may be seen.
//  2. GridOf is its numbers as the paper has them, a box for each that the boot
//     needs, empty where none was written.
//  3. Worksheet and Key print a set, two forms a page, as one self-contained HTML
//     file for a paper of a said size; both have the set's number on every page.
//  4. FormsPage, KeyPage and MarkedPage are the same as documents, as the command
//     line prints them; Marking, Class and their neighbours are the parts of how
//     practice went.
package exercise
