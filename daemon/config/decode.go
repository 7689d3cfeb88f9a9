package config

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// decoder puts a document's settings into a Config and collects what is wrong
// with them.
type decoder struct {
	name     string
	cfg      *Config
	keys     map[string]*Key     // by the schema's path
	sections map[string]*Section // by the schema's name; nil for a mere prefix
	// inFile tells where the user's file set a key or opened a section.
	inFile map[string]position
	// set are all keys with a value, shares those still to be multiplied.
	set    map[string]bool
	shares map[string]bool
	// texts are the values as written, by the file or the default.
	texts map[string]string
	// bad are keys with a mistake of their own, which are compared no further.
	bad map[string]bool
	// invented is true where the invented machine's plate lies under the file.
	invented bool
	// elements counts the elements of each array of sections.
	elements map[string]int
	// lost are sections that no key is asked of any more: one mistake was told.
	lost     []string
	problems []Problem
}

func newDecoder(name string) *decoder {
	d := &decoder{
		name: name, cfg: &Config{},
		keys: map[string]*Key{}, sections: map[string]*Section{},
		inFile: map[string]position{}, set: map[string]bool{}, shares: map[string]bool{}, texts: map[string]string{}, bad: map[string]bool{}, elements: map[string]int{},
	}
	schema := Schema()
	for i := range schema {
		s := &schema[i]
		for k := range s.Keys {
			d.keys[s.path(&s.Keys[k])] = &s.Keys[k]
		}
		for at, c := range s.Name {
			if c == '.' && d.sections[s.Name[:at]] == nil {
				d.sections[s.Name[:at]] = nil
			}
		}
		d.sections[s.pattern()] = s
	}
	return d
}

// maxProblems is how many problems are told of one by one; a file with more is
// not mended from one list anyway.
const maxProblems = 200

// full reports whether enough is wrong.
func (d *decoder) full() bool { return len(d.problems) >= maxProblems }

// report adds a mistake.
func (d *decoder) report(at position, key, message, mend string) {
	d.problems = append(d.problems, Problem{d.name, at.line, at.column, key, message, mend, false})
}

// note adds what the user should know.
func (d *decoder) note(at position, key, message, mend string) {
	d.problems = append(d.problems, Problem{d.name, at.line, at.column, key, message, mend, true})
}

// underlay applies the default file, as far as the file's ground lets it hold.
func (d *decoder) underlay(g ground) {
	d.invented = g.invented()
	for _, l := range read(defaultTOML).leaves {
		k := d.keys[l.path]
		if k == nil || k.Plate && !g.invented() || k.Bare && g.bare || l.path == "simulator.on" && !g.simulated {
			continue
		}
		if r, t := convert(k, l.value); t == nil {
			d.put(l, k, 0, r)
		}
	}
}

func (d *decoder) put(l leaf, k *Key, i int, r reading) {
	store(k.field(d.cfg, i), r)
	d.set[l.path], d.shares[l.path] = true, r.share
	d.texts[l.path] = l.value.text
}

// sound reports whether none of the keys had a mistake of its own, so that
// holding them against each other tells something new.
func (d *decoder) sound(paths ...string) bool {
	return !slices.ContainsFunc(paths, func(p string) bool { return d.bad[p] })
}

// written returns a value as it was written, by the file or the default.
func (d *decoder) written(path string) string { return shortQuote(d.texts[path]) }

// overlay applies the user's file.
func (d *decoder) overlay(doc document) {
	for _, h := range doc.heads {
		d.head(h)
	}
	for _, l := range doc.leaves {
		d.leaf(l)
	}
}

// pattern turns the path of an element into the schema's: csv.column[2].name
// becomes csv.column[].name, with i = 1.
func pattern(path string) (pattern string, i int) {
	open := strings.IndexByte(path, '[')
	if open < 0 || strings.Contains(path, `"`) {
		return path, 0
	}
	shut := open + strings.IndexByte(path[open:], ']')
	if _, err := fmt.Sscanf(path[open:shut], "[%d", &i); err != nil {
		return path, 0
	}
	return path[:open+1] + path[shut:], i - 1
}

func (d *decoder) isLost(path string) bool {
	return slices.ContainsFunc(d.lost, func(l string) bool {
		return path == l || strings.HasPrefix(path, l+".") || strings.HasPrefix(path, l+"[")
	})
}

func (d *decoder) head(h head) {
	if d.full() || d.isLost(h.path) {
		return
	}
	if first, twice := d.inFile[h.path]; twice {
		d.report(h.at, h.path, "the section stands twice", fmt.Sprintf("move its keys to line %d", first.line))
		return
	}
	p, i := pattern(h.path)
	s, known := d.sections[p]
	if !known {
		d.unknownSection(h, p)
		return
	}
	d.inFile[h.path] = h.at
	if s != nil && s.Array {
		d.openElement(h, s, i)
	}
}

// openElement makes room for one more element of an array of sections.
func (d *decoder) openElement(h head, s *Section, i int) {
	if i >= s.Max {
		d.report(h.at, h.path, fmt.Sprintf("is one too many: %d fit", s.Max), "leave out the least important ones")
		d.lost = append(d.lost, h.path)
		return
	}
	d.elements[s.Name] = max(d.elements[s.Name], i+1)
	if s.grow != nil {
		s.grow(d.cfg, h.at.line)
	}
}

func (d *decoder) unknownSection(h head, p string) {
	d.lost = append(d.lost, h.path)
	name := strings.ReplaceAll(p, "[]", "")
	if s, ok := d.sections[name]; ok && (s == nil || !s.Array) {
		d.report(h.at, h.path, "there is only one such section", "write ["+name+"]")
		return
	}
	if _, ok := d.sections[name+"[]"]; ok {
		d.report(h.at, h.path, "there may be several such sections", "write [["+name+"]]")
		return
	}
	if k := d.keys[name]; k != nil {
		d.report(h.at, h.path, "is a key, not a section", "write "+k.Name+" = "+k.sample())
		return
	}
	d.report(h.at, h.path, "unknown section", d.nearestSection(name))
}

func (d *decoder) nearestSection(name string) string {
	names := make([]string, 0, len(d.sections))
	for _, n := range slices.Sorted(maps.Keys(d.sections)) {
		names = append(names, strings.ReplaceAll(n, "[]", ""))
	}
	if best, ok := nearest(name, names); ok {
		return "did you mean " + best + "?"
	}
	names = slices.DeleteFunc(names, func(n string) bool { return n == "" || strings.Contains(n, ".") })
	return "sections are " + strings.Join(slices.Compact(names), ", ")
}

func (d *decoder) leaf(l leaf) {
	if d.full() || d.isLost(l.path) {
		return
	}
	if first, twice := d.inFile[l.path]; twice {
		d.report(l.at, l.path, "is set twice", fmt.Sprintf("first on line %d; keep one", first.line))
		return
	}
	d.inFile[l.path] = l.at
	p, i := pattern(l.path)
	k := d.keys[p]
	if k == nil {
		d.unknownKey(l, p)
		return
	}
	if s := d.sections[p[:max(strings.LastIndexByte(p, '.'), 0)]]; s.Array && i >= d.elements[s.Name] {
		return // the element itself was refused
	}
	r, t := convert(k, l.value)
	if t != nil {
		d.report(l.value.at, l.path, t.message, t.mend)
		d.bad[l.path] = true
		return
	}
	d.put(l, k, i, r)
}

func (d *decoder) unknownKey(l leaf, p string) {
	if s, ok := d.sections[p]; ok {
		d.report(l.at, l.path, "is a section, not a key", "write ["+p+"]"+firstKey(s))
		return
	}
	if _, ok := d.sections[p+"[]"]; ok {
		if l.value.shape == aList && len(l.value.items) == 0 {
			return // an empty list of sections is none
		}
		d.report(l.at, l.path, "is a list of sections, not a key", "write [["+p+"]]")
		return
	}
	parent, name := "", p
	if at := strings.LastIndexByte(p, '.'); at >= 0 {
		parent, name = p[:at], p[at+1:]
	}
	if k := d.keys[parent]; k != nil {
		d.report(l.at, l.path, "unknown key: "+parent+" is a single value", "write "+k.Name+" = "+k.sample())
		return
	}
	if _, ok := d.sections[parent]; !ok {
		d.lost = append(d.lost, strings.TrimSuffix(l.path, "."+name))
		d.report(l.at, l.path, "unknown section", d.nearestSection(strings.ReplaceAll(parent, "[]", "")))
		return
	}
	d.report(l.at, l.path, "unknown key", d.nearestKey(parent, name))
}

func firstKey(s *Section) string {
	if s == nil || len(s.Keys) == 0 {
		return ""
	}
	return " and below it for example " + s.Keys[0].Name + " = " + s.Keys[0].sample()
}

// nearestKey looks in the same section first; a key of another section must
// match exactly.
func (d *decoder) nearestKey(section, name string) string {
	s := d.sections[section]
	var names []string
	if s != nil {
		for i := range s.Keys {
			names = append(names, s.Keys[i].Name)
		}
	}
	if best, ok := nearest(name, names); ok {
		return "did you mean " + join(strings.ReplaceAll(section, "[]", ""), best) + "?"
	}
	for _, path := range slices.Sorted(maps.Keys(d.keys)) {
		if path == name || strings.HasSuffix(path, "."+name) && !strings.HasPrefix(path, "channels.") && !strings.HasPrefix(path, "rules.") {
			return "did you mean " + path + "?"
		}
	}
	if len(names) == 0 {
		return d.nearestSection(join(section, name))
	}
	return "keys here are " + strings.Join(names, ", ")
}
