package workshop

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// FindBrowser is the path of a Chromium, "" where there is none.
func FindBrowser() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

// PrintPDF prints a page with the browser, in a profile of its own that is
// thrown away.
func PrintPDF(ctx context.Context, browser, html, pdf string) error {
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	profile, err := os.MkdirTemp("", "lastroom-print-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(profile)
	from, err := filepath.Abs(html)
	if err != nil {
		return err
	}
	args := []string{"--headless", "--disable-gpu", "--no-first-run", "--disable-extensions", "--user-data-dir=" + profile,
		"--no-pdf-header-footer", "--print-to-pdf=" + pdf, "file://" + from}
	if os.Geteuid() == 0 { // Chromium's sandbox refuses the root user
		args = append([]string{"--no-sandbox"}, args...)
	}
	if out, err := exec.CommandContext(ctx, browser, args...).CombinedOutput(); err != nil {
		return fmt.Errorf("the PDF could not be printed: %w\n%s", err, lastLine(string(out)))
	}
	return nil
}

func lastLine(s string) string {
	s = strings.TrimSpace(s)
	return s[strings.LastIndexByte(s, '\n')+1:]
}
