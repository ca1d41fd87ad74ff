package archive

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/notebooks"
	"lastroom/notebooks/whole"
)

// sumsName is the file of a run that lists the SHA-256 of all others, a line a
// file, hash and name, and in its last line that of the lines above. run.json
// stands twice while it is being replaced.
const sumsName = "sums.txt"

// ErrDamaged is wrapped by the error of a run that is not what was kept.
var ErrDamaged = errors.New("the kept run is damaged")

func damaged(id, why string) error {
	return fmt.Errorf("%w: %s, %s; run its notebook again, or restore a backup. A decision that rests on it holds its numbers as they were", ErrDamaged, id, why)
}

// writeSums writes the list for files that have been read; run holds the texts
// that run.json may have.
func writeSums(root *os.Root, dir string, sums map[string]string, run ...[]byte) error {
	var b bytes.Buffer
	for _, text := range run {
		fmt.Fprintf(&b, "%s  run.json\n", notebooks.Digest(text))
	}
	for _, name := range slices.Sorted(maps.Keys(sums)) {
		fmt.Fprintf(&b, "%s  %s\n", sums[name], name)
	}
	fmt.Fprintf(&b, "%s  %s\n", notebooks.Digest(b.Bytes()), sumsName)
	return whole.Write(root, dir+"/"+sumsName, b.Bytes())
}

// readSums reads the list of a run: the hashes that each file may have. nil is a
// run that an older program kept without.
func readSums(root *os.Root, id string) (map[string][]string, error) {
	text, err := root.ReadFile(id + "/" + sumsName)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	sums := map[string][]string{}
	for at := 0; at < len(text); {
		line, _, ended := strings.Cut(string(text[at:]), "\n")
		sum, name, ok := strings.Cut(line, "  ")
		if !ok || !ended {
			break
		}
		if name == sumsName && sum == notebooks.Digest(text[:at]) && at+len(line)+1 == len(text) {
			return sums, nil
		}
		sums[name] = append(sums[name], sum)
		at += len(line) + 1
	}
	return nil, damaged(id, "its list of hashes is not what was written")
}

// readChecked reads a file of a run and holds it to its hash.
func readChecked(root *os.Root, id, name string) ([]byte, error) {
	sums, err := readSums(root, id)
	if err != nil {
		return nil, err
	}
	b, err := root.ReadFile(id + "/" + name)
	if errors.Is(err, fs.ErrNotExist) {
		if len(sums[name]) > 0 {
			return nil, damaged(id, name+" is missing")
		}
		return nil, ErrNoRun
	}
	if err == nil && sums != nil && !slices.Contains(sums[name], notebooks.Digest(b)) {
		return nil, damaged(id, name+" is not what was kept")
	}
	return b, err
}

// Verify holds every file of every run, in whatever folder of it, to its hash. It
// gives what is wrong, and how many files it read.
func (s Store) Verify() (problems []string, files int, err error) {
	root, err := os.OpenRoot(s.Dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, 0, nil
	}
	if err != nil {
		return nil, 0, err
	}
	defer root.Close()
	entries, err := os.ReadDir(s.Dir)
	if err != nil {
		return nil, 0, err
	}
	for _, e := range entries {
		if !e.IsDir() || strings.HasSuffix(e.Name(), ".new") { // one that was being written
			continue
		}
		n, err := verifyRun(root, s.Dir, e.Name())
		files += n
		if err != nil {
			problems = append(problems, err.Error())
		}
	}
	return problems, files, nil
}

func verifyRun(root *os.Root, dir, id string) (files int, err error) {
	sums, err := readSums(root, id)
	if err != nil {
		return 0, err
	}
	if sums == nil { // kept before there were lists of hashes
		return 0, nil
	}
	for name := range sums {
		if _, err := root.Lstat(id + "/" + name); err != nil {
			return files, damaged(id, name+" is missing")
		}
	}
	err = filepath.WalkDir(filepath.Join(dir, id), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == sumsName || strings.HasSuffix(d.Name(), ".new") {
			return err
		}
		name, err := filepath.Rel(filepath.Join(dir, id), path)
		if err != nil {
			return err
		}
		files++
		_, err = readChecked(root, id, filepath.ToSlash(name))
		return err
	})
	return files, err
}
