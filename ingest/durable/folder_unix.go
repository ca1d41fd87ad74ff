//go:build unix

package durable

import "os"

// SyncFolder makes the names in a folder durable.
func SyncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}
