package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/md5"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// tree is a package's files before they are packed.
type tree struct {
	root string
	when time.Time
	// sums are the lines of md5sums, bytes what the files take.
	sums  []string
	bytes int64
}

// file puts one file into the package; path has no leading slash.
func (t *tree) file(path string, mode fs.FileMode, content []byte) error {
	t.sums = append(t.sums, fmt.Sprintf("%x  %s", md5.Sum(content), path))
	t.bytes += int64(len(content))
	return t.write(path, mode, content)
}

func (t *tree) write(path string, mode fs.FileMode, content []byte) error {
	full := filepath.Join(t.root, filepath.FromSlash(path))
	if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(full, content, mode); err != nil {
		return err
	}
	return os.Chmod(full, mode) // whatever the builder's umask is
}

// zipped puts a file in compressed, without the time and the name that gzip
// would keep.
func (t *tree) zipped(path string, content []byte) error {
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return err
	}
	if _, err := w.Write(content); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	return t.file(path+".gz", 0o644, b.Bytes())
}

// control writes what dpkg reads.
func (t *tree) control(src *source, a architecture) error {
	fill := strings.NewReplacer("@VERSION@", src.version, "@ARCH@", a.debian, "@MAINTAINER@", maintainer,
		"@SIZE@", strconv.FormatInt((t.bytes+1023)/1024, 10))
	for name, mode := range map[string]fs.FileMode{"control": 0o644, "preinst": 0o755, "postinst": 0o755, "prerm": 0o755, "postrm": 0o755} {
		text, err := debian.ReadFile("debian/" + name)
		if err != nil {
			return err
		}
		if err := t.write("DEBIAN/"+name, mode, []byte(fill.Replace(string(text)))); err != nil {
			return err
		}
	}
	if err := t.write("DEBIAN/conffiles", 0o644, []byte("/"+conffile+"\n")); err != nil {
		return err
	}
	return t.write("DEBIAN/md5sums", 0o644, []byte(strings.Join(t.sums, "\n")+"\n"))
}

// pack runs dpkg-deb. Every time is the source's, folders' too; owners are
// root's, whoever builds.
func (t *tree) pack(ctx context.Context, path string) error {
	err := filepath.WalkDir(t.root, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if err := os.Chmod(p, 0o755); err != nil {
				return err
			}
		}
		return os.Chtimes(p, t.when, t.when)
	})
	if err != nil {
		return err
	}
	cmd := exec.CommandContext(ctx, "dpkg-deb", "--root-owner-group", "-Zxz", "-z6", "--threads-max=1", "--build", t.root, path)
	cmd.Env = append(os.Environ(), epochVariable+"="+strconv.FormatInt(t.when.Unix(), 10))
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("dpkg-deb (Debian package dpkg): %w: %s", err, bytes.TrimSpace(out))
	}
	return nil
}
