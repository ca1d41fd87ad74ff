// Package propose looks at files that nobody described and writes a mapping for
// them, which always loads. What can't be told is a question in it.
//
//	files, folders ─ Gather ─▶ copies to look at
//	a tab or text ─ lookAt ─▶ look: where the header stands, what each column holds
//	looks ─ group, understand ─▶ tables of one layout; what each column is
//	tables ─ write ─▶ the mapping's text, questions, evidence
//	text ─ Preview ─▶ what can't be read is left out, and the rest written again
package propose
