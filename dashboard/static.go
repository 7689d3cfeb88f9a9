package dashboard

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"
)

//go:embed static templates
var files embed.FS

// buildOf names the program that writes the pages: the same version with other
// scripts or templates is another one.
func buildOf(version string) string {
	h := sha256.New()
	_, _ = io.WriteString(h, version)
	_ = fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		body, err := files.ReadFile(name)
		_, _ = fmt.Fprintf(h, "\x00%s\x00%s", name, body)
		return err
	})
	return hex.EncodeToString(h.Sum(nil)[:8])
}

// staticFiles serves the style sheet, the script and the icon. An embedded
// file has no date, so the tag is its content's hash: a browser asks each time
// and gets a few bytes back while nothing has changed.
func staticFiles() http.Handler {
	tags, small := map[string]string{}, map[string][]byte{}
	_ = fs.WalkDir(files, "static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		body, err := files.ReadFile(name)
		sum := sha256.Sum256(body)
		tags["/"+name] = `"` + hex.EncodeToString(sum[:8]) + `"`
		small["/"+name] = packed(body, gzip.BestCompression)
		return err
	})
	serve := http.FileServerFS(files)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		tag, ok := tags[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("ETag", tag)
		w.Header().Set("Cache-Control", "no-cache")
		w.Header().Set("Vary", "Accept-Encoding")
		if !takesGzip(r) {
			serve.ServeHTTP(w, r)
			return
		}
		w.Header().Set("ETag", strings.TrimSuffix(tag, `"`)+`-gz"`) // other bytes, another tag
		w.Header().Set("Content-Encoding", "gzip")
		http.ServeContent(w, r, path.Base(r.URL.Path), time.Time{}, bytes.NewReader(small[r.URL.Path]))
	})
}
