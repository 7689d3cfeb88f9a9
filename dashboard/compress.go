package dashboard

import (
	"bytes"
	"compress/gzip"
	"net/http"
	"strings"
)

// takesGzip reports whether a reader takes packed answers. They matter over a
// board's own Wi-Fi at the far end of a yard, and hold nothing secret that their
// length could tell.
func takesGzip(r *http.Request) bool {
	for _, part := range strings.Split(r.Header.Get("Accept-Encoding"), ",") {
		name, quality, _ := strings.Cut(strings.TrimSpace(part), ";")
		if name == "gzip" && strings.TrimSpace(quality) != "q=0" {
			return true
		}
	}
	return false
}

// packed returns a body as gzip.
func packed(body []byte, level int) []byte {
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, level)
	if err == nil {
		_, err = w.Write(body)
	}
	if err != nil || w.Close() != nil {
		return nil // a buffer takes everything: this is a level that isn't one
	}
	return b.Bytes()
}

// writePacked writes a whole body, packed for those who take it. The header's
// own fields must be set before.
func writePacked(w http.ResponseWriter, r *http.Request, code int, body []byte) {
	w.Header().Add("Vary", "Accept-Encoding")
	if takesGzip(r) {
		if small := packed(body, gzip.BestSpeed); small != nil {
			w.Header().Set("Content-Encoding", "gzip")
			body = small
		}
	}
	w.WriteHeader(code)
	if r.Method != http.MethodHead {
		_, _ = w.Write(body) // A reader who left is no fault.
	}
}
