// Package translation says finished pages in another language than English.
//
// The program makes its pages in English; what a reader sees in another language is
// said by a catalogue of sentences, English beside the other, as translators keep one:
//
//  1. [parse] reads a catalogue's files: sentences with holes for what changes.
//  2. [Language.Page] walks the finished page. What stands between two block elements is a
//     unit: text, with its links and emphasis as marks in it.
//  3. [Language.Text] parts the unit until its parts are sentences of the catalogue (text.go
//     has the rule), fills their holes, which are said in the same way (match.go), and writes
//     numbers, days and months as the language does (figures.go).
//  4. A figure's texts get the length that they have in the language, as far as there is
//     room beside their neighbours (drawing.go).
//
// What no sentence fits stays English and is told as untold, so that tests find it. Code,
// what people typed and what is marked translate="no" stays as it is.
//
// The catalogue of a language is its folder. In it are the words of letters and measuring
// sheets too, under keys (package words), since a shop may lay a file of its own over them:
// [Keyed] hands them to who prints.
//
// So findings stay numbers and English words everywhere else: kept runs, caches, JSON and
// CSV are the same whoever reads them, and one run is read in every language.
package translation
