package upkeep

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"lastroom/analysis/sumlines"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
)

// trainingFiles are what is kept of practice and of measuring sessions, which
// notebooks/learners and notebooks/sessions write.
func trainingFiles(f bookfile.Files) (learners, sessions []string, err error) {
	if learners, err = filepath.Glob(filepath.Join(f.Learners(), "*.lines")); err != nil {
		return nil, nil, err
	}
	sessions, err = filepath.Glob(filepath.Join(f.Sessions(), "*.lines"))
	return learners, sessions, err
}

// checkTraining holds the lines of these files to their sums.
func (v *Verification) checkTraining(_ context.Context, _ *sql.Conn, f bookfile.Files) error {
	learners, sessions, err := trainingFiles(f)
	for _, path := range slices.Concat(learners, sessions) {
		text, err := os.ReadFile(path)
		if err == nil {
			_, err = sumlines.Read(text)
		}
		if err != nil {
			v.problem("%s, kept of training, can't be read: %v; put the file of a backup in its place, or remove it", path, err)
		}
	}
	return err
}

// fromTraining removes a learner who is the person, and takes the person's legs out
// of sessions: their numbers, and their name in the plan.
func (g *Forgotten) fromTraining(f bookfile.Files, customer string) error {
	learners, sessions, err := trainingFiles(f)
	if err != nil {
		return err
	}
	for _, path := range learners {
		is := false
		if !g.lookThrough(path, func(line map[string]any) (any, bool) {
			is = is || line["learner"] == customer
			return line, false
		}, nil) {
			continue
		}
		if is {
			if err := durable.Remove(path); err != nil {
				return err
			}
			g.Training++
		}
	}
	for _, path := range sessions {
		var text bytes.Buffer
		at, changed := -1.0, false
		if !g.lookThrough(path, func(line map[string]any) (any, bool) {
			if plan, ok := line["plan"].(map[string]any); ok {
				subjects, _ := plan["subjects"].([]any)
				if i := slices.Index(subjects, any(customer)); i >= 0 {
					at, changed, subjects[i] = float64(i), true, fmt.Sprintf("forgotten %d", i+1)
				}
			}
			entry, ok := line["entry"].(map[string]any)
			return line, ok && entry["subject"] == at
		}, &text) {
			continue
		}
		if changed {
			err := durable.Replace(path, f.Work(), func(w *os.File) error {
				_, err := w.Write(text.Bytes())
				return err
			})
			if err != nil {
				return err
			}
			g.Training++
		}
	}
	return nil
}

// lookThrough gives each line of a file to see, and writes what it leaves into out.
// One that can't be read is named for people to remove.
func (g *Forgotten) lookThrough(path string, see func(line map[string]any) (left any, out bool), into *bytes.Buffer) bool {
	text, err := os.ReadFile(path)
	var values [][]byte
	if err == nil {
		values, err = sumlines.Read(text)
	}
	for _, v := range values {
		var line map[string]any
		if err == nil {
			err = json.Unmarshal(v, &line)
		}
		if err != nil {
			break
		}
		left, goes := see(line)
		if into == nil || goes {
			continue
		}
		var b []byte
		if b, err = sumlines.Line(left); err != nil {
			break
		}
		into.Write(b)
	}
	if err != nil {
		g.Left = append(g.Left, fmt.Sprintf("%s, kept of training, can't be looked through (%v); remove it", path, err))
	}
	return err == nil
}
