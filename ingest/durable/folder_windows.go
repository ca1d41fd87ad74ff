package durable

// SyncFolder does nothing: Windows has no folder sync.
func SyncFolder(string) error { return nil }
