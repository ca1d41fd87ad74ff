package orderbook

import (
	"io/fs"
	"strings"
)

// A View is a view of the book that a person's SQL may ask, with what it is
// and its columns, in words.
type View struct {
	Name  string
	About string // lines as in the view's file
}

// viewQuery is the query that a view's file gives the view; "" without the file.
func viewQuery(file string) string {
	text, err := fs.ReadFile(viewFiles, "sql/views/"+file+".sql")
	if err != nil {
		return ""
	}
	_, query, _ := strings.Cut(string(text), " AS\n")
	return strings.TrimSuffix(strings.TrimSpace(query), ";")
}

// Views are the documented views, in the order in which one rests on another.
func Views() []View {
	names, err := fs.Glob(viewFiles, "sql/views/*.sql")
	if err != nil {
		return nil // the pattern is a good one
	}
	var out []View
	for _, name := range names { // Glob sorts
		text, err := fs.ReadFile(viewFiles, name)
		if err != nil {
			continue
		}
		var about []string
		for _, line := range strings.Split(string(text), "\n") {
			line, ok := strings.CutPrefix(line, "--")
			if !ok {
				break
			}
			about = append(about, strings.TrimPrefix(line, " "))
		}
		title, rest, _ := strings.Cut(strings.Join(about, "\n"), ":")
		out = append(out, View{Name: title, About: strings.TrimSpace(rest)})
	}
	return out
}
