package dashboard

import (
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// luminance is the relative luminance of a colour. Source: WCAG 2.2,
// definition of relative luminance.
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	h := strings.TrimPrefix(hex, "#")
	if len(h) == 3 {
		h = string([]byte{h[0], h[0], h[1], h[1], h[2], h[2]})
	}
	require.Len(t, h, 6, hex)
	lin := func(s string) float64 {
		n, err := strconv.ParseUint(s, 16, 8)
		require.NoError(t, err)
		c := float64(n) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*lin(h[:2]) + 0.7152*lin(h[2:4]) + 0.0722*lin(h[4:])
}

func contrast(t *testing.T, a, b string) float64 {
	la, lb := luminance(t, a), luminance(t, b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

func TestContrastFormula(t *testing.T) {
	cases := []struct {
		a, b   string
		want   float64
		source string
	}{
		{"#000", "#fff", 21, "WCAG 2.2: the highest contrast there is"},
		{"#fff", "#fff", 1, "WCAG 2.2: the lowest"},
		{"#777", "#fff", 4.48, "widely published example of a grey that just fails 4.5:1"},
	}
	for _, c := range cases {
		require.InDelta(t, c.want, contrast(t, c.a, c.b), 0.005, c.source)
	}
}

func tokens(t *testing.T) map[string]string {
	t.Helper()
	css, err := os.ReadFile("static/app.css")
	require.NoError(t, err)
	root, rest, _ := strings.Cut(string(css), "* { box-sizing")
	out := map[string]string{}
	for _, m := range regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]+);`).FindAllStringSubmatch(root, -1) {
		out[m[1]] = m[2]
	}
	require.NotRegexp(t, regexp.MustCompile(`#[0-9a-f]{3,6}\b[^{]*;|rgb|hsl|(?:^|[^-])opacity: 0?\.`), rest, "a colour outside the tokens escapes this test")
	return out
}

func TestContrast(t *testing.T) {
	c := tokens(t)
	text := []struct{ fore, back string }{
		{"ink", "paper"}, {"quiet", "paper"}, {"paper", "ink"}, {"on-act", "act"}, {"on-warning", "warning"},
		{"on-advice", "advice"}, {"act", "paper"}, {"advice", "paper"},
	}
	for _, p := range text {
		require.GreaterOrEqual(t, contrast(t, c[p.fore], c[p.back]), 7.0, "text %s on %s (WCAG 2.2, 1.4.6)", p.fore, p.back)
	}
	graphics := []struct{ fore, back string }{
		{"edge", "paper"}, {"ink", "track"}, {"ink", "warning"}, {"act", "track"}, {"advice", "track"}, {"ink", "edge"},
	}
	for _, p := range graphics {
		require.GreaterOrEqual(t, contrast(t, c[p.fore], c[p.back]), 3.0, "graphic %s on %s (WCAG 2.2, 1.4.11)", p.fore, p.back)
	}
}

// TestColourIsNeverAlone checks that each tone has its own shape, and that the
// alarm levels are the three that people can tell apart.
func TestColourIsNeverAlone(t *testing.T) {
	parts, err := os.ReadFile("templates/parts.html")
	require.NoError(t, err)
	shapes := map[string]string{}
	for _, m := range regexp.MustCompile(`<symbol id="i-([a-z]+)"[^>]*>(.*?)</symbol>`).FindAllStringSubmatch(string(parts), -1) {
		for name, s := range shapes {
			require.NotEqual(t, s, m[2], "%s and %s look the same", name, m[1])
		}
		shapes[m[1]] = m[2]
	}
	for _, want := range []string{"act", "warning", "advice", "watch", "unknown", "normal"} {
		require.Contains(t, shapes, want)
	}
}
