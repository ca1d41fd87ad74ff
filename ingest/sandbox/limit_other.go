//go:build !unix

package sandbox

import "time"

// limitChild does nothing where the system has no such limits: the engine's own
// memory limit and the parent's kill remain.
func limitChild(uint64, time.Duration) error { return nil }
