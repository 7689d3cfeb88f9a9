package dashboard

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
)

//go:embed static templates
var files embed.FS

// staticFiles serves the style sheet, the script and the icon. An embedded
// file has no date, so the tag is its content's hash: a browser asks each time
// and gets a few bytes back while nothing has changed.
func staticFiles() http.Handler {
	tags := map[string]string{}
	_ = fs.WalkDir(files, "static", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		body, err := files.ReadFile(path)
		sum := sha256.Sum256(body)
		tags["/"+path] = `"` + hex.EncodeToString(sum[:8]) + `"`
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
		serve.ServeHTTP(w, r)
	})
}
