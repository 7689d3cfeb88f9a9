package report

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"headroom/daemon/wholefile"
)

// browsers are the names under which a browser that can print without a window
// is looked for on the PATH; any other is named with -browser.
var browsers = []string{"chromium", "chromium-browser"}

// ErrNoBrowser means that none was found; the HTML is the same report.
var ErrNoBrowser = errors.New("no Chromium is on the PATH: name one with -browser, or open the HTML file in any browser and print it to PDF, which gives the same pages")

// FindBrowser returns the browser that was named, or the first that is there.
func FindBrowser(named string) (path string, err error) {
	if named != "" {
		if path, err = exec.LookPath(named); err != nil {
			return "", fmt.Errorf("cannot use the browser %s: %w; name another with -browser", named, err)
		}
		return path, nil
	}
	for _, name := range browsers {
		if path, err := exec.LookPath(name); err == nil {
			return path, nil
		}
	}
	return "", ErrNoBrowser
}

// patience is how long a browser may take to print.
const patience = 2 * time.Minute

// WritePDF prints the report to a file by a browser (see FindBrowser). It works
// in a folder of its own that it takes away again, and the file appears only
// when it is whole.
func (p *Report) WritePDF(ctx context.Context, browser, file string) (err error) {
	work, err := os.MkdirTemp("", "headroom-report-")
	if err != nil {
		return fmt.Errorf("cannot make the PDF: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(work)) }()
	page := filepath.Join(work, "report.html")
	f, err := os.Create(page)
	if err != nil {
		return fmt.Errorf("cannot make the PDF: %w", err)
	}
	if err := errors.Join(p.WriteHTML(f), f.Close()); err != nil {
		return fmt.Errorf("cannot make the PDF: %w", err)
	}
	made := filepath.Join(work, "report.pdf")
	if err := printPage(ctx, browser, work, page, made); err != nil {
		return err
	}
	return place(made, file)
}

func printPage(ctx context.Context, browser, work, page, made string) error {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	args := []string{
		"--headless", "--disable-gpu", "--no-first-run", "--disable-extensions", "--user-data-dir=" + filepath.Join(work, "profile"),
		"--no-pdf-header-footer", "--print-to-pdf=" + made, (&url.URL{Scheme: "file", Path: page}).String(),
	}
	if os.Geteuid() == 0 {
		args = append([]string{"--no-sandbox"}, args...) // as root it refuses to start with one
	}
	cmd := exec.CommandContext(ctx, browser, args...)
	cmd.WaitDelay = 5 * time.Second
	out, err := cmd.CombinedOutput()
	if err != nil {
		return fmt.Errorf("cannot make the PDF: %s failed: %w: %s; open the HTML file in any browser and print it instead", browser, err, lastLine(out))
	}
	if info, err := os.Stat(made); err != nil || info.Size() == 0 {
		return fmt.Errorf("cannot make the PDF: %s wrote none: %s; open the HTML file in any browser and print it instead", browser, lastLine(out))
	}
	return nil
}

func lastLine(out []byte) string {
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	return strings.TrimSpace(lines[len(lines)-1])
}

// place puts a finished file where it shall be.
func place(from, to string) error {
	data, err := os.ReadFile(from)
	if err == nil {
		err = wholefile.Write(to, data)
	}
	if err != nil {
		return fmt.Errorf("cannot write the PDF: %w", err)
	}
	return nil
}
