package dashboard

import (
	"fmt"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
	"pgregory.net/rapid"

	"headroom/dashboard/webtest"
	"headroom/rules/frame"
)

// testingT is what both kinds of tests have.
type testingT interface {
	require.TestingT
	Helper()
}

// parsed is a part of the page as a browser's parser makes it. Source: package
// golang.org/x/net/html follows the HTML Living Standard's tree construction,
// and shares nothing with outlineOf but the tokens.
func parsed(t testingT, source string) (root *html.Node) {
	t.Helper()
	root = &html.Node{Type: html.ElementNode, Data: "div", DataAtom: atom.Div}
	list, err := html.ParseFragment(strings.NewReader(source), root)
	require.NoError(t, err)
	for _, n := range list {
		root.AppendChild(n)
	}
	return root
}

// inOrder are the nodes as a tree walker counts them.
func inOrder(root *html.Node) (out []*html.Node) {
	for n := range root.Descendants() {
		out = append(out, n)
	}
	return out
}

// applied does what graft.js does with a list of changes.
func applied(t testingT, root *html.Node, list []change) {
	t.Helper()
	nodes := inOrder(root)
	for _, c := range list {
		n := nodes[c.Node]
		switch {
		case c.Text != nil:
			require.Equal(t, html.TextNode, n.Type)
			n.Data = *c.Text
		case c.Inner != nil:
			for n.FirstChild != nil {
				n.RemoveChild(n.FirstChild)
			}
			inside, err := html.ParseFragment(strings.NewReader(*c.Inner), n)
			require.NoError(t, err)
			for _, k := range inside {
				n.AppendChild(k)
			}
		default:
			require.Equal(t, html.ElementNode, n.Type)
			for name, value := range c.Attrs {
				n.Attr = slices.DeleteFunc(n.Attr, func(a html.Attribute) bool { return strings.EqualFold(a.Key, name) })
				if value != nil {
					n.Attr = append(n.Attr, html.Attribute{Key: name, Val: *value})
				}
			}
		}
	}
}

// written is a tree as text, with the attributes by name.
func written(t testingT, root *html.Node) string {
	t.Helper()
	var b strings.Builder
	for n := range root.Descendants() {
		for i := range n.Attr {
			n.Attr[i].Key = strings.ToLower(n.Attr[i].Key)
		}
		slices.SortFunc(n.Attr, func(a, b html.Attribute) int { return strings.Compare(a.Key, b.Key) })
	}
	require.NoError(t, html.Render(&b, root))
	return b.String()
}

// agree holds the changes from one source to the next against the parser.
func agree(t testingT, was, now string) (list []change, ok bool) {
	t.Helper()
	o, n := outlineOf(was), outlineOf(now)
	require.Len(t, inOrder(parsed(t, was)), len(o.nodes), was)
	require.Len(t, inOrder(parsed(t, now)), len(n.nodes), now)
	if list, ok = changes(&o, &n); !ok {
		return nil, false
	}
	root := parsed(t, was)
	applied(t, root, list)
	require.Equal(t, written(t, parsed(t, now)), written(t, root), "from %s", was)
	return list, true
}

// A day of the demo machine, in every region: what the reader has after the
// changes is what the server has written, and nearly always few bytes say so.
func TestChangesMakeThePart(t *testing.T) {
	m := demoMachine(t)
	s := newServer(m.options(), m.store)
	was := map[string]string{}
	sent, all := 0, 0
	for n := range 600 {
		switch n {
		case 150:
			starve(m)
		case 300:
			mend(m)
		case 400:
			m.set(frame.Trigger, 0)
			m.set(frame.Flow, 0)
		case 500:
			m.noise = nil
		}
		m.feed(5 * liveTick)
		v := s.view(prefs{Window: shortWindow})
		for _, name := range regions() {
			if name == "charts" {
				continue
			}
			now, err := s.fragment(name, v)
			require.NoError(t, err)
			if old, ok := was[name]; ok && old != now {
				all += len(now)
				if list, ok := agree(t, old, now); ok {
					for _, c := range list {
						sent += 20
						if c.Text != nil {
							sent += len(*c.Text)
						} else if c.Inner != nil {
							sent += len(*c.Inner)
						}
					}
				} else {
					sent += len(now)
				}
			}
			was[name] = now
		}
	}
	t.Logf("%d bytes of %d", sent, all)
	require.Less(t, sent, all/4)
}

// aTree is any markup of the kind that the templates write.
func aTree(t *rapid.T, deep int) string {
	var b strings.Builder
	text := true // two texts side by side are one
	for range rapid.IntRange(0, 3).Draw(t, "children") {
		kind := rapid.IntRange(0, 4).Draw(t, "kind")
		switch {
		case kind == 0 && text:
			b.WriteString(rapid.SampledFrom([]string{"a", "5 &lt; 6", "1 &amp; 2", "\n", "é"}).Draw(t, "text"))
		case kind == 1:
			b.WriteString("<br>")
		case kind == 2:
			fmt.Fprintf(&b, `<svg viewBox="0 0 1 1"><rect x="%d"/></svg>`, rapid.IntRange(0, 3).Draw(t, "x"))
		case kind > 2 && deep > 0:
			tag := rapid.SampledFrom([]string{"div", "span", "details"}).Draw(t, "tag")
			attr := rapid.SampledFrom([]string{"", ` class="x"`, ` data-key="1"`, ` data-key="2" title="&#34;"`, " hidden"}).Draw(t, "attr")
			fmt.Fprintf(&b, "<%s%s>%s</%s>", tag, attr, aTree(t, deep-1), tag)
		}
		text = kind != 0
	}
	return b.String()
}

func TestChangesOfAnyTree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { agree(t, aTree(t, 3), aTree(t, 3)) })
}

// What the browser has after a while of single changes is what the server has
// written, and it never had to ask for whole parts.
func TestBrowserHasWhatTheServerWrote(t *testing.T) {
	m := demoMachine(t)
	srv := httptest.NewServer(New(m.options()))
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	b := webtest.New(t)
	b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(srv.URL))
	for n := range 80 {
		switch n {
		case 20:
			starve(m)
		case 50:
			mend(m)
		}
		m.tick(noon)
		time.Sleep(liveTick)
	}
	b.Wait(t, fmt.Sprintf(`document.body.dataset.seq === "%d"`, m.store.Latest().Seq))
	differ := webtest.Ask[string](t, b, `(async () => {
		const fresh = new DOMParser().parseFromString(await (await fetch("/")).text(), "text/html");
		const plain = (el) => {
			const c = el.cloneNode(true);
			for (const e of c.querySelectorAll("*")) { e.removeAttribute("open"); e.removeAttribute("disabled"); }
			return c.innerHTML;
		};
		for (const el of document.querySelectorAll("[data-region]")) {
			const name = el.dataset.region, want = fresh.querySelector('[data-region="' + name + '"]');
			if (name !== "charts" && plain(el) !== plain(want)) return name + ": " + plain(el) + " IS NOT " + plain(want);
		}
		return "";
	})()`)
	require.Empty(t, differ)
	require.False(t, webtest.Ask[bool](t, b, `performance.getEntriesByType("resource").some((e) => e.name.includes("whole=1"))`), "the browser counted other nodes than the server")
	require.Empty(t, b.Problems())
}
