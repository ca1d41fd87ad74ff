package bookfile

import (
	"encoding/json"
	"fmt"
	"lastroom/ingest/durable"
	"os"
	"time"
)

// A holder is what the lock file says of the program that holds it.
type holder struct {
	Process int       `json:"process"`
	Program string    `json:"program"`
	Since   time.Time `json:"since"`
	Host    string    `json:"host"`
}

// patience is how long a writer waits for another one: long enough for a program
// that only finishes what was cut short, as each one that opens a book may.
const patience = time.Second

// Lock takes the writer's gate of a book, or says in plain words who has it.
func Lock(f Files, program string) (*os.File, error) {
	lock, err := os.OpenFile(f.Lock(), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fmt.Errorf("can't open the lock of the order book: %w", err)
	}
	held, err := durable.Lock(lock)
	for until := time.Now().Add(patience); held && err == nil && time.Now().Before(until); {
		time.Sleep(patience / 40)
		held, err = durable.Lock(lock)
	}
	if held || err != nil {
		who := readHolder(f)
		lock.Close()
		if held {
			return nil, fmt.Errorf("%w: %s; wait until it is done, then try again", ErrBusy, who)
		}
		return nil, fmt.Errorf("can't lock the order book %s: %w", f.Book, err)
	}
	return lock, writeHolder(lock, program)
}

func writeHolder(lock *os.File, program string) error {
	host, _ := os.Hostname()
	text, err := json.Marshal(holder{os.Getpid(), program, time.Now().UTC().Truncate(time.Second), host})
	if err != nil {
		return err
	}
	if err := lock.Truncate(0); err != nil {
		return err
	}
	_, err = lock.WriteAt(append(text, '\n'), 0)
	return err
}

func readHolder(f Files) string {
	text, err := os.ReadFile(f.Lock())
	var h holder
	if err != nil || json.Unmarshal(text, &h) != nil || h.Process == 0 {
		return f.Book + " is held by another program"
	}
	return fmt.Sprintf("%s is held by %s (process %d on %s, since %s)",
		f.Book, h.Program, h.Process, h.Host, h.Since.Format("2006-01-02 15:04:05 UTC"))
}
