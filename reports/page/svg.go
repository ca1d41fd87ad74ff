package page

import (
	"bytes"
	"fmt"
	"io"
)

// Figures are all figures of a document in the order in which they stand.
func Figures(d *Document) []Figure {
	var out []Figure
	for _, s := range d.Sections {
		for _, b := range s.Blocks {
			if f, ok := b.(Figure); ok {
				out = append(out, f)
			}
		}
	}
	return out
}

// SVG writes a figure as a file of its own, on paper with a margin, so that it
// can be read on any ground.
func SVG(w io.Writer, f *Figure) error {
	head, rest, ok := bytes.Cut(f.SVG, []byte(">"))
	at := bytes.Index(head, []byte(`viewBox="0 0 `))
	var width, height float64
	if ok && at >= 0 {
		_, err := fmt.Sscanf(string(head[at:]), `viewBox="0 0 %g %g"`, &width, &height)
		ok = err == nil
	}
	if !ok || at < 0 {
		return fmt.Errorf("the figure %q holds no drawing", f.ID)
	}
	const margin = 16
	box := fmt.Sprintf(`x="%d" y="%d" width="%g" height="%g"`, -margin, -margin, width+2*margin, height+2*margin)
	head = bytes.Replace(head, fmt.Appendf(nil, `viewBox="0 0 %g %g"`, width, height),
		fmt.Appendf(nil, `viewBox="%d %d %g %g" width="%g" height="%g"`, -margin, -margin, width+2*margin, height+2*margin, width+2*margin, height+2*margin), 1)
	_, err := fmt.Fprintf(w, "%s>\n<rect %s fill=\"#fbf9f4\"/>%s\n", head, box, rest)
	return err
}
