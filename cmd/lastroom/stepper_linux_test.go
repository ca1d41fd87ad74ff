//go:build linux && amd64

package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// steppedChild in the environment makes the test's program one that lets itself be
// stopped before each call of the system that changes a file, and then becomes the
// program in its arguments.
const steppedChild = "LASTROOM_TEST_STEPPED"

// changing are the calls by which a program changes files (x86-64 numbers).
var changing = map[uint64]string{
	unix.SYS_OPENAT: "open", unix.SYS_OPEN: "open", unix.SYS_CREAT: "open",
	unix.SYS_WRITE: "write", unix.SYS_PWRITE64: "write", unix.SYS_WRITEV: "write", unix.SYS_PWRITEV: "write",
	unix.SYS_COPY_FILE_RANGE: "write", unix.SYS_SENDFILE: "write",
	unix.SYS_FTRUNCATE: "truncate", unix.SYS_FALLOCATE: "allocate",
	unix.SYS_RENAME: "rename", unix.SYS_RENAMEAT: "rename", unix.SYS_RENAMEAT2: "rename",
	unix.SYS_UNLINK: "remove", unix.SYS_UNLINKAT: "remove", unix.SYS_RMDIR: "remove",
	unix.SYS_MKDIR: "mkdir", unix.SYS_MKDIRAT: "mkdir",
	unix.SYS_LINK: "link", unix.SYS_LINKAT: "link",
	unix.SYS_FCHMOD: "mode", unix.SYS_FCHMODAT: "mode", unix.SYS_CHMOD: "mode",
	unix.SYS_UTIMENSAT: "time",
}

// becomeStepped puts the filter of system calls in place that a tracer is told by
// (seccomp(2), SECCOMP_RET_TRACE), and becomes the program. It returns only where
// this is no such child.
func becomeStepped() {
	if os.Getenv(steppedChild) == "" {
		return
	}
	runtime.LockOSThread()
	filter := []unix.SockFilter{{Code: unix.BPF_LD | unix.BPF_W | unix.BPF_ABS, K: 0}} // the number of the call
	// Most files are opened to be read: those are let through here.
	const flags = 16 + 2*8 // the third argument in what a filter sees
	filter = append(filter,
		unix.SockFilter{Code: unix.BPF_JMP | unix.BPF_JEQ | unix.BPF_K, Jf: 4, K: unix.SYS_OPENAT},
		unix.SockFilter{Code: unix.BPF_LD | unix.BPF_W | unix.BPF_ABS, K: flags},
		unix.SockFilter{Code: unix.BPF_JMP | unix.BPF_JSET | unix.BPF_K, Jf: 1, K: unix.O_CREAT | unix.O_TRUNC},
		unix.SockFilter{Code: unix.BPF_RET | unix.BPF_K, K: unix.SECCOMP_RET_TRACE},
		unix.SockFilter{Code: unix.BPF_RET | unix.BPF_K, K: unix.SECCOMP_RET_ALLOW})
	for no := range changing {
		filter = append(filter,
			unix.SockFilter{Code: unix.BPF_JMP | unix.BPF_JEQ | unix.BPF_K, Jf: 1, K: uint32(no)},
			unix.SockFilter{Code: unix.BPF_RET | unix.BPF_K, K: unix.SECCOMP_RET_TRACE})
	}
	filter = append(filter, unix.SockFilter{Code: unix.BPF_RET | unix.BPF_K, K: unix.SECCOMP_RET_ALLOW})
	program := unix.SockFprog{Len: uint16(len(filter)), Filter: &filter[0]}
	path, err := exec.LookPath(os.Args[1])
	if err == nil {
		err = unix.Prctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0)
	}
	if err == nil {
		if _, _, no := unix.Syscall(unix.SYS_SECCOMP, unix.SECCOMP_SET_MODE_FILTER, 0, uintptr(unsafe.Pointer(&program))); no != 0 {
			err = no
		}
	}
	if err == nil {
		os.Unsetenv(steppedChild)
		err = syscall.Exec(path, os.Args[1:], os.Environ())
	}
	fmt.Fprintln(os.Stderr, err)
	os.Exit(99)
}

// A stepper runs the program, and stops it before each call that changes a file
// under a folder.
type stepper struct {
	dir string // the folder, and where the program runs
	// before is told what the program is about to do, while all of it stands still as
	// far as files go; it ends the program by true.
	before func(what string) (kill bool)
}

// A steppedEnd is how a program ended.
type steppedEnd struct {
	killed bool
	status int
	said   string // on both outputs
}

// run runs the program with arguments to its end. started is told its process. Several may
// run at once: each waits for nothing but the group of processes that its own program leads.
func (s stepper) run(t *testing.T, started func(pid int, said func() string), args ...string) (end steppedEnd) {
	t.Helper()
	// A tracer is a thread, not a process.
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	said, err := os.CreateTemp(t.TempDir(), "said")
	require.NoError(t, err)
	defer said.Close()
	self, err := os.Executable()
	require.NoError(t, err)
	c := exec.Command(self, append([]string{"lastroom"}, args...)...)
	c.Dir, c.Env = s.dir, append(os.Environ(), steppedChild+"=1", "PATH="+pathWithoutBrowser())
	c.Stdout, c.Stderr = said, said
	c.SysProcAttr = &syscall.SysProcAttr{Ptrace: true, Setpgid: true, Pdeathsig: syscall.SIGKILL}
	if err := c.Start(); err != nil {
		t.Skip("a program can't be traced here: ", err)
	}
	pid := c.Process.Pid
	read := func() string {
		text, err := os.ReadFile(said.Name())
		require.NoError(t, err)
		return string(text)
	}
	defer func() { end.said = read() }()
	var status unix.WaitStatus
	_, err = unix.Wait4(pid, &status, unix.WALL, nil)
	require.NoError(t, err)
	require.NoError(t, unix.PtraceSetOptions(pid, unix.PTRACE_O_TRACESECCOMP|unix.PTRACE_O_TRACECLONE|unix.PTRACE_O_TRACEFORK|unix.PTRACE_O_TRACEVFORK|unix.PTRACE_O_TRACEEXEC|unix.PTRACE_O_EXITKILL))
	require.NoError(t, unix.PtraceCont(pid, 0))
	if started != nil {
		started(pid, read)
	}
	for {
		thread, err := unix.Wait4(-pid, &status, unix.WALL, nil)
		if err == unix.EINTR {
			continue
		}
		require.NoError(t, err)
		if status.Exited() || status.Signaled() {
			if thread == pid {
				require.True(t, status.Exited() || end.killed, "ended by a signal: %v", status.Signal())
				end.status = status.ExitStatus()
				_ = unix.Kill(-pid, unix.SIGKILL) // its children end with it, or soon after
				for err == nil || err == unix.EINTR {
					_, err = unix.Wait4(-pid, &status, unix.WALL, nil)
				}
				return end
			}
			continue
		}
		pass := 0
		switch event := int(status) >> 16; {
		case event == unix.PTRACE_EVENT_SECCOMP:
			if what := s.about(thread); what != "" && !end.killed && s.before(what) {
				end.killed = true
				require.NoError(t, unix.Kill(pid, unix.SIGKILL))
				continue
			}
		case event == 0 && status.StopSignal() != unix.SIGTRAP && status.StopSignal() != unix.SIGSTOP: // a signal on its way
			pass = int(status.StopSignal())
		}
		if err := unix.PtraceCont(thread, pass); err != nil && err != unix.ESRCH {
			require.NoError(t, err)
		}
	}
}

// about says what a thread is about to do to a file under the folder; "" where it
// is none of it.
func (s stepper) about(thread int) string {
	var regs unix.PtraceRegs
	if unix.PtraceGetRegs(thread, &regs) != nil {
		return ""
	}
	at := func(dir, name uint64) string {
		text := textAt(thread, name)
		if filepath.IsAbs(text) {
			return text
		}
		base := fmt.Sprintf("/proc/%d/cwd", thread)
		if int32(dir) != unix.AT_FDCWD {
			base = fmt.Sprintf("/proc/%d/fd/%d", thread, int32(dir))
		}
		folder, _ := os.Readlink(base)
		return filepath.Join(folder, text)
	}
	const here = 1<<64 + unix.AT_FDCWD
	var path string
	const opening = unix.O_CREAT | unix.O_TRUNC
	switch regs.Orig_rax {
	case unix.SYS_OPENAT:
		if regs.Rdx&opening == 0 {
			return ""
		}
		path = at(regs.Rdi, regs.Rsi)
	case unix.SYS_OPEN:
		if regs.Rsi&opening == 0 {
			return ""
		}
		path = at(here, regs.Rdi)
	case unix.SYS_CREAT, unix.SYS_UNLINK, unix.SYS_RMDIR, unix.SYS_MKDIR, unix.SYS_CHMOD:
		path = at(here, regs.Rdi)
	case unix.SYS_RENAME, unix.SYS_LINK:
		path = at(here, regs.Rsi)
	case unix.SYS_RENAMEAT, unix.SYS_RENAMEAT2, unix.SYS_LINKAT:
		path = at(regs.Rdx, regs.R10)
	case unix.SYS_UNLINKAT, unix.SYS_MKDIRAT, unix.SYS_FCHMODAT, unix.SYS_UTIMENSAT:
		path = at(regs.Rdi, regs.Rsi)
	case unix.SYS_COPY_FILE_RANGE:
		path, _ = os.Readlink(fmt.Sprintf("/proc/%d/fd/%d", thread, int32(regs.Rdx)))
	default: // the file is open already
		path, _ = os.Readlink(fmt.Sprintf("/proc/%d/fd/%d", thread, int32(regs.Rdi)))
	}
	rel, err := filepath.Rel(s.dir, path)
	if err != nil || strings.HasPrefix(rel, "..") {
		return ""
	}
	return changing[regs.Orig_rax] + " " + steadyName(rel)
}

// changeful are the parts of names that are others in each run.
var changeful = regexp.MustCompile(`[0-9a-f]{12,}|[A-Z2-7]{20,}|[0-9]{5,}`)

func steadyName(name string) string { return changeful.ReplaceAllString(name, "*") }

// textAt reads a text of a stopped thread.
func textAt(thread int, at uint64) string {
	f, err := os.Open(fmt.Sprintf("/proc/%d/mem", thread))
	if err != nil {
		return ""
	}
	defer f.Close()
	b := make([]byte, unix.PathMax)
	n, _ := f.ReadAt(b, int64(at))
	text, _, _ := bytes.Cut(b[:n], []byte{0})
	return string(text)
}
