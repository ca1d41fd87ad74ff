// Package uploads keeps what a person sends to the service to be loaded.
//
//  1. A Store begins an Upload: a private folder of spreadsheets that wait for
//     what their person chooses about them. It goes when they are loaded or
//     thrown away, and when nobody came back to it for a day.
//  2. What was chosen is noted in the folder, so that the service may be ended
//     in between.
//  3. Layouts are kept beside the book for good: how spreadsheets of one make
//     are read, under a name, with the choices it was made of.
//
// It is a package of its own, because the pages only show and take what stands
// here, and a test of it needs no server.
package uploads
