package main

import (
	"context"
	"embed"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"
)

//go:embed debian
var debian embed.FS

// maintainer has an address under the name that is reserved for such a use
// (RFC 2606): there is no list to write to.
const maintainer = "Contributors of headroom <contributors@headroom.example>"

// conffile is kept through upgrades as its owner left it.
const conffile = "etc/headroom/config.toml"

const docFolder = "usr/share/doc/headroom/"

// copied are files of the checkout that go in as they are.
var copied = []struct{ from, to string }{
	{"deploy/systemd/headroom.service", "usr/lib/systemd/system/headroom.service"},
	{"deploy/systemd/sysusers.conf", "usr/lib/sysusers.d/headroom.conf"},
	{"deploy/systemd/udev.rules", "usr/lib/udev/rules.d/60-headroom.rules"},
	{"deploy/systemd/config.toml", conffile},
	{"deploy/systemd/avahi.service", docFolder + "examples/avahi.service"},
	{"deploy/systemd/record-partition.conf", docFolder + "examples/record-partition.conf"},
	{"deploy/boards/README.md", docFolder + "boards.md"},
	{"deploy/SECURITY.md", docFolder + "security.md"},
	{"deploy/HANDBOOK.md", docFolder + "handbook.md"},
	{"deploy/wiring/README.md", docFolder + "wiring/README.md"},
	{"deploy/wiring/*.svg", docFolder + "wiring/"},
	{"deploy/package/debian/copyright", docFolder + "copyright"},
	{"deploy/package/debian/lintian-overrides", "usr/share/lintian/overrides/headroom"},
}

// written is what the program writes about itself, by the paths of its command
// docs. Manual pages are compressed, as Debian policy 12.1 has it.
var written = []struct {
	from, to string
	zip      bool
}{
	{"man/headroom.1", "usr/share/man/man1/headroom.1", true},
	{"man/headroom.toml.5", "usr/share/man/man5/headroom.toml.5", true},
	{"bash/headroom", "usr/share/bash-completion/completions/headroom", false},
	{"zsh/_headroom", "usr/share/zsh/vendor-completions/_headroom", false},
	{"fish/headroom.fish", "usr/share/fish/vendor_completions.d/headroom.fish", false},
}

// fill builds the program and puts everything in its place.
func (s *source) fill(ctx context.Context, t *tree, a architecture, work string) error {
	program, err := s.compile(ctx, a, filepath.Join(work, "headroom"))
	if err != nil {
		return err
	}
	if err := t.file("usr/bin/headroom", 0o755, program); err != nil {
		return err
	}
	for _, c := range copied {
		if err := s.copy(t, c.from, c.to); err != nil {
			return err
		}
	}
	if err := s.pages(ctx, t, work); err != nil {
		return err
	}
	notices, err := s.notices(ctx, a)
	if err != nil {
		return err
	}
	if err := t.zipped(docFolder+"third-party.txt", notices); err != nil {
		return err
	}
	return t.zipped(docFolder+"changelog", s.changelog())
}

// copy puts one file in, or all of a pattern below a folder.
func (s *source) copy(t *tree, from, to string) error {
	found, err := filepath.Glob(filepath.Join(s.root, filepath.FromSlash(from)))
	if err != nil || len(found) == 0 {
		return fmt.Errorf("the checkout has no %s (%v)", from, err)
	}
	for _, f := range found {
		content, err := os.ReadFile(f)
		if err != nil {
			return err
		}
		name := to
		if strings.HasSuffix(to, "/") {
			name = path.Join(to, filepath.Base(f))
		}
		if err := t.file(name, 0o644, content); err != nil {
			return err
		}
	}
	return nil
}

// changelog names the version. What changed is in the repository's history.
func (s *source) changelog() []byte {
	return fmt.Appendf(nil, "headroom (%s) unstable; urgency=medium\n\n  * Built from the source of this date.\n\n -- %s  %s\n",
		s.version, maintainer, s.date.Format(time.RFC1123Z))
}
