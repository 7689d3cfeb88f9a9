package dashboard

import (
	"compress/gzip"
	"io"
	"net/http"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
)

func gzipped(r *http.Request) { r.Header.Set("Accept-Encoding", "br, gzip;q=0.8") }

// firstViewBudget is what the first view may weigh as it goes over the air.
// Source: the project's own requirement.
const firstViewBudget = 60_000

// Everything that the browser needs for the first view, as it is sent.
func TestFirstViewStaysInItsBudget(t *testing.T) {
	for name, sc := range scenes() {
		h := newServer(testOptions(), sc.feed()).handler()
		total, todo, seen := 0, []string{"/"}, map[string]bool{"/": true}
		for len(todo) > 0 {
			path := todo[0]
			todo = todo[1:]
			resp := get(t, h, path, gzipped)
			require.Equal(t, http.StatusOK, resp.StatusCode, path)
			require.Equal(t, "gzip", resp.Header.Get("Content-Encoding"), path)
			packed, err := io.ReadAll(resp.Body)
			require.NoError(t, err)
			total += len(packed)
			for _, m := range regexp.MustCompile(`(?:href|src)="(/static/[^"]+)"|from "\.(/[a-z]+\.js)"`).FindAllStringSubmatch(unpack(t, packed), -1) {
				next := m[1]
				if m[2] != "" {
					next = "/static" + m[2]
					require.True(t, seen[next] || next == "/static/live.js", "%s is found late: the page must name it for preloading", next)
				}
				if !seen[next] {
					seen[next] = true
					todo = append(todo, next)
				}
			}
		}
		require.Len(t, seen, 9, "page, style, icon and six modules")
		require.LessOrEqual(t, total, firstViewBudget, name)
		t.Logf("%s: %d bytes in %d files", name, total, len(seen))
	}
}

func unpack(t *testing.T, data []byte) string {
	r, w := io.Pipe()
	go func() { _, err := w.Write(data); w.CloseWithError(err) }()
	z, err := gzip.NewReader(r)
	require.NoError(t, err)
	out, err := io.ReadAll(z)
	require.NoError(t, err)
	return string(out)
}

func TestPackedIsTheSame(t *testing.T) {
	h := newServer(testOptions(), steady().feed()).handler()
	for _, path := range []string{"/", "/cautions", "/static/app.css", "/static/live.js"} {
		plainResp := get(t, h, path)
		require.Empty(t, plainResp.Header.Get("Content-Encoding"))
		small := get(t, h, path, gzipped)
		require.Equal(t, "Accept-Encoding", small.Header.Get("Vary"), path)
		require.Equal(t, plainResp.Header.Get("Content-Type"), small.Header.Get("Content-Type"), path)
		body, err := io.ReadAll(small.Body)
		require.NoError(t, err)
		require.Equal(t, text(t, plainResp), unpack(t, body), path)
	}
	refuses := get(t, h, "/", func(r *http.Request) { r.Header.Set("Accept-Encoding", "gzip;q=0") })
	require.Empty(t, refuses.Header.Get("Content-Encoding"))
	tag := get(t, h, "/static/app.css", gzipped).Header.Get("ETag")
	again := get(t, h, "/static/app.css", gzipped, func(r *http.Request) { r.Header.Set("If-None-Match", tag) })
	require.Equal(t, http.StatusNotModified, again.StatusCode)
}
