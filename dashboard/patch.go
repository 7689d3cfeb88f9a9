package dashboard

import (
	"strings"

	"golang.org/x/net/html"
)

// outline is the order of the nodes of a part of the page: its elements and its
// texts as they stand in the source, which is how a browser's tree walker
// counts them.
type outline struct {
	source string
	nodes  []outlined
}

// outlined is one node. raw is an element's start tag, or a text; end is the
// index behind its last descendant, and from and to hold an element's inner
// source.
type outlined struct {
	tag, raw      string // the tag of a text is empty
	end, from, to int
}

// void elements have no inside and no end tag. Source: HTML Living Standard,
// 13.1.2.
var void = map[string]bool{
	"area": true, "base": true, "br": true, "col": true, "embed": true, "hr": true, "img": true, "input": true,
	"link": true, "meta": true, "source": true, "track": true, "wbr": true,
}

// outlineOf reads what our own templates have written. Foreign markup with end
// tags left out would be counted otherwise than a browser does, which finds out
// by the number of nodes.
func outlineOf(source string) outline {
	o := outline{source: source}
	z := html.NewTokenizer(strings.NewReader(source))
	var open []int
	at := 0
	for {
		kind := z.Next()
		if kind == html.ErrorToken {
			break
		}
		raw := source[at : at+len(z.Raw())]
		at += len(raw)
		switch kind {
		case html.TextToken:
			o.nodes = append(o.nodes, outlined{raw: raw, end: len(o.nodes) + 1})
		case html.StartTagToken, html.SelfClosingTagToken:
			name, _ := z.TagName()
			n := outlined{tag: string(name), raw: raw, end: len(o.nodes) + 1, from: at, to: at}
			if o.nodes = append(o.nodes, n); kind == html.StartTagToken && !void[n.tag] {
				open = append(open, len(o.nodes)-1)
			}
		case html.EndTagToken:
			name, _ := z.TagName()
			for len(open) > 0 {
				n := &o.nodes[open[len(open)-1]]
				n.end, n.to = len(o.nodes), at-len(raw)
				if open = open[:len(open)-1]; n.tag == string(name) {
					break
				}
			}
		}
	}
	for _, i := range open {
		o.nodes[i].end, o.nodes[i].to = len(o.nodes), len(source)
	}
	return o
}

// change is one node of a reader's part of the page that is different now. Only
// one of the three stands.
type change struct {
	// Node counts elements and texts, in the order of the reader's part.
	Node int `json:"n"`
	// Text is a text's new one.
	Text *string `json:"t,omitempty"`
	// Attrs are an element's attributes that differ; nil for one that is gone.
	Attrs map[string]*string `json:"a,omitempty"`
	// Inner is the whole inside of an element whose children are others.
	Inner *string `json:"h,omitempty"`
}

// changes says how the new part differs from the one that the reader has, so
// that an old phone needn't read and compare the whole part twice a second. ok
// is false where the part's own children are others: it must be sent whole.
func changes(old, now *outline) (list []change, ok bool) {
	list = []change{}
	ok = differ(old, now, 0, len(old.nodes), 0, len(now.nodes), &list)
	return list, ok
}

// differ compares the children that stand from i to iEnd with those from j to
// jEnd, and reports whether they are the same ones.
func differ(old, now *outline, i, iEnd, j, jEnd int, list *[]change) bool {
	if !sameChildren(old, now, i, iEnd, j, jEnd) {
		return false
	}
	for i < iEnd {
		o, n := &old.nodes[i], &now.nodes[j]
		if o.raw != n.raw && o.tag == "" {
			*list = append(*list, change{Node: i, Text: new(html.UnescapeString(n.raw))})
		} else if o.raw != n.raw {
			if attrs := attrsThatDiffer(attrsOf(o.raw), attrsOf(n.raw)); len(attrs) > 0 {
				*list = append(*list, change{Node: i, Attrs: attrs})
			}
		}
		inner := now.source[n.from:n.to]
		if inner != old.source[o.from:o.to] && !differ(old, now, i+1, o.end, j+1, n.end, list) {
			*list = append(*list, change{Node: i, Inner: &inner})
		}
		i, j = o.end, n.end
	}
	return true
}

// sameChildren reports whether one list of children can become the other by
// changing texts and attributes: the same kinds in the same order, and the same
// keys, which tell one row from another.
func sameChildren(old, now *outline, i, iEnd, j, jEnd int) bool {
	for i < iEnd && j < jEnd {
		o, n := &old.nodes[i], &now.nodes[j]
		if o.tag != n.tag || o.raw != n.raw && o.tag != "" && attrsOf(o.raw)["data-key"] != attrsOf(n.raw)["data-key"] {
			return false
		}
		i, j = o.end, n.end
	}
	return i == iEnd && j == jEnd
}

// attrsOf reads the attributes of a start tag.
func attrsOf(tag string) map[string]string {
	out := map[string]string{}
	z := html.NewTokenizer(strings.NewReader(tag))
	z.Next()
	for _, more := z.TagName(); more; {
		var key, value []byte
		key, value, more = z.TagAttr()
		out[string(key)] = string(value)
	}
	return out
}

// attrsThatDiffer is what makes the one of the other. A fold stays as the person
// left it.
func attrsThatDiffer(was, now map[string]string) map[string]*string {
	out := map[string]*string{}
	for k := range was {
		if _, ok := now[k]; !ok && k != "open" {
			out[k] = nil
		}
	}
	for k, v := range now {
		if w, ok := was[k]; !ok || w != v {
			out[k] = &v
		}
	}
	return out
}
