package notebooks

import (
	"fmt"
	"strings"
)

// readKeys reads the words behind the kind of a cell: key=value, with double
// quotes around a value that has blanks.
func readKeys(s string) (map[string]string, error) {
	keys := map[string]string{}
	for s = strings.TrimSpace(s); s != ""; s = strings.TrimSpace(s) {
		key, rest, ok := strings.Cut(s, "=")
		if !ok || !plainName.MatchString(key) {
			word, _, _ := strings.Cut(s, " ")
			return nil, fmt.Errorf("%q is not of the form key=value", word)
		}
		if _, twice := keys[key]; twice {
			return nil, fmt.Errorf("%s= stands twice", key)
		}
		if !strings.HasPrefix(rest, `"`) {
			keys[key], s, _ = strings.Cut(rest, " ")
			continue
		}
		value, after, ok := strings.Cut(rest[1:], `"`)
		if !ok {
			return nil, fmt.Errorf("%s= has no closing quote", key)
		}
		if after != "" && after[0] != ' ' {
			return nil, fmt.Errorf("a blank is missing behind %s=%q", key, value)
		}
		keys[key], s = value, after
	}
	return keys, nil
}

// SQLParameters are the names of the parameters a query asks for, in order of
// mention, each once. Quoted text and comments don't count.
func SQLParameters(sql string) []string {
	var names []string
	seen := map[string]bool{}
	for i := 0; i < len(sql); {
		if n := quietLen(sql[i:]); n > 0 {
			i += n
			continue
		}
		if sql[i] != '$' {
			i++
			continue
		}
		j := i + 1
		for j < len(sql) && isNameByte(sql[j]) {
			j++
		}
		if name := sql[i+1 : j]; name != "" && !seen[name] {
			seen[name] = true
			names = append(names, name)
		}
		i = j
	}
	return names
}

func isNameByte(b byte) bool {
	return b == '_' || b >= '0' && b <= '9' || b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z'
}

// quietLen is the length of the quoted text or comment at the start of sql; 0
// where none starts there.
func quietLen(sql string) int {
	until := func(skip int, end string) int {
		if i := strings.Index(sql[skip:], end); i >= 0 {
			return skip + i + len(end)
		}
		return len(sql)
	}
	switch {
	case strings.HasPrefix(sql, "'"):
		return until(1, "'")
	case strings.HasPrefix(sql, `"`):
		return until(1, `"`)
	case strings.HasPrefix(sql, "--"):
		return until(2, "\n")
	case strings.HasPrefix(sql, "/*"):
		return until(2, "*/")
	case strings.HasPrefix(sql, "$$"):
		return until(2, "$$")
	}
	return 0
}

// BareSQL is a query in lower case (A to Z only, so that places stay) with its
// quoted text and comments blanked, for looking at its words.
func BareSQL(sql string) string {
	var b strings.Builder
	for i := 0; i < len(sql); {
		if n := quietLen(sql[i:]); n > 0 {
			b.WriteString(strings.Repeat(" ", n))
			i += n
			continue
		}
		b.WriteByte(sql[i])
		i++
	}
	return strings.Map(func(r rune) rune {
		if r >= 'A' && r <= 'Z' {
			r += 'a' - 'A'
		}
		return r
	}, b.String())
}
