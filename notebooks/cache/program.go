package cache

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"runtime/debug"
	"strconv"
	"sync"
)

// Program identifies the running program, so that another build never reads
// this one's results: a hash of the start of its file, where the linker keeps
// the build id, of the file's size, and of what the build says of itself.
var Program = sync.OnceValue(func() string {
	h := sha256.New()
	if info, ok := debug.ReadBuildInfo(); ok {
		io.WriteString(h, info.String())
	}
	if path, err := os.Executable(); err == nil {
		if f, err := os.Open(path); err == nil {
			defer f.Close()
			io.Copy(h, io.LimitReader(f, 64<<10))
			if st, err := f.Stat(); err == nil {
				io.WriteString(h, strconv.FormatInt(st.Size(), 10))
			}
		}
	}
	return hex.EncodeToString(h.Sum(nil))[:16]
})
