// Package models keeps risk models as files beside a book, each named by its version
// and its own hash, so that an old verdict can be explained.
package models

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/analysis/risk"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
)

// layout is that of a kept model; one of another layout is passed over.
const layout = 1

// kept is a file of the folder of models.
type kept struct {
	Format int          `json:"format"`
	Learnt *risk.Learnt `json:"learnt"`
}

// Read reads all models beside a book, the oldest first. What is damaged, or of
// another layout, is passed over: a model can be fitted anew, and verify names what
// is damaged.
func Read(f bookfile.Files) (list []*risk.Learnt, err error) {
	names, err := os.ReadDir(f.Models())
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	for _, n := range names {
		if !strings.HasSuffix(n.Name(), ".json") {
			continue
		}
		text, err := os.ReadFile(filepath.Join(f.Models(), n.Name()))
		if err != nil || !strings.HasSuffix(n.Name(), "-"+sumOf(text)+".json") {
			continue
		}
		var k kept
		if json.Unmarshal(text, &k) == nil && k.Format == layout && k.Learnt != nil && k.Learnt.Ready() == nil {
			list = append(list, k.Learnt)
		}
	}
	slices.SortStableFunc(list, func(a, b *risk.Learnt) int { return cmp.Compare(a.Version, b.Version) })
	return list, err
}

func sumOf(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])[:bookfile.ModelSum]
}

// Keep writes a model under its version.
func Keep(f bookfile.Files, l *risk.Learnt) error {
	text, err := json.MarshalIndent(kept{layout, l}, "", " ")
	if err != nil {
		return err
	}
	if err := os.MkdirAll(f.Models(), 0o700); err != nil {
		return err
	}
	if err := durable.Sweep(filepath.Join(f.Models(), "*.new")); err != nil {
		return err
	}
	name := fmt.Sprintf("model-%04d-%s.json", l.Version, sumOf(text))
	return durable.Write(filepath.Join(f.Models(), name), 0o600, text)
}
