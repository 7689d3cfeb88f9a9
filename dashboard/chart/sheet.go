package chart

import "math"

// Band is what a quantity did in a short time: the least and the most of its
// usable readings, so that no spike is hidden.
type Band struct {
	// From and To in seconds. Bands follow one another without overlap.
	From, To float64
	// Min and Max in the unit that the panel shows; valid when Kind is Known.
	Min, Max float64
	Kind     BandKind
}

// BandKind tells whether there is anything to draw.
type BandKind uint8

// The kinds. The zero value is NoFrames, so that a band nobody filled shows as
// a gap.
const (
	// NoFrames: nothing was recorded.
	NoFrames BandKind = iota
	// Unknown: frames were recorded, and no reading in them could be used.
	Unknown
	// Known: Min and Max hold.
	Known
)

// Panel is one quantity on a sheet.
type Panel struct {
	// Name and Unit stand over the panel, Note behind them.
	Name, Unit, Note string
	Bands            []Band
	Limits           []Limit
	// MinSpan is the least height of the scale; above 0.
	MinSpan float64
	// Decimals of the limits' values.
	Decimals int
	// Switch is a quantity of off and on: a low panel without a scale.
	Switch bool
}

// SheetMark is an event that is drawn through all panels.
type SheetMark struct {
	T float64
	// Number of the sentence that tells of it, and Label for those who point at
	// it or hear it.
	Number int
	Label  string
	// Strong marks what asked to act at once; Act what a person did.
	Strong, Act bool
}

// Tick is a labelled time on the axis.
type Tick struct {
	T     float64
	Label string
}

// Sheet is several quantities over one time axis, for reviewing and printing.
type Sheet struct {
	// ID begins the ids inside the picture, so that several can stand on one
	// page. Name is the picture's name, and Describe tells in words what it
	// shows, for those who cannot see it.
	ID, Name, Describe string
	// From and To bound the time axis, in seconds.
	From, To float64
	Panels   []Panel
	// Marks in rising order of time.
	Marks []SheetMark
	Ticks []Tick
	// Width is the picture's width in its own units; 0 is PrintWidth. Letters
	// keep their size in these units, so a narrow sheet is readable on a small
	// screen, where a wide one would be shrunk.
	Width float64
	// Class is added to the picture's class, for a style sheet.
	Class string
}

// PrintWidth is as wide as paper, MiddleWidth for a tablet and NarrowWidth for
// a phone: none of the letters is below 14 px at 1026, 573 and 293 px.
const (
	PrintWidth  = 720.0
	MiddleWidth = 400.0
	NarrowWidth = 206.0
)

// The measures of a sheet in its own units, which print at about 0.94 CSS
// pixels.
const (
	// compactBelow is the width below which the limits' names stand over their
	// panel; on a wider sheet there is a margin for them, sheetRight wide.
	compactBelow = 600.0
	sheetLeft    = 62.0
	sheetRight   = 98.0
	compactLeft  = 42.0
	compactRight = 9.0
	// headRow is a further line of small letters over a panel, and letterWidth
	// a generous guess at one of them.
	headRow, letterWidth = 13.0, 6.6
	// markRow is the height of one row of mark numbers, of which there are up to
	// markRows, and markGap the least distance in a row.
	markRow, markRows = 17.0, 3
	markGap           = 19.0
	panelHead         = 18.0
	panelHeight       = 52.0
	switchHeight      = 18.0
	panelFoot         = 5.0
	axisHeight        = 20.0
	// maxSheetMarks keeps a bad day readable: the first ones stay, as they tell
	// how it began.
	maxSheetMarks = 60
)

// Height returns the picture's height in its own units.
func (s *Sheet) Height() float64 {
	h := s.top() + axisHeight
	for i := range s.Panels {
		h += s.height(&s.Panels[i])
	}
	return h
}

func (s *Sheet) width() float64 {
	if !(s.Width > 0) {
		return PrintWidth
	}
	return s.Width
}

func (s *Sheet) compact() bool { return s.width() < compactBelow }

// left and right bound the plots.
func (s *Sheet) left() float64 {
	if s.compact() {
		return compactLeft
	}
	return sheetLeft
}

func (s *Sheet) right() float64 {
	if s.compact() {
		return s.width() - compactRight
	}
	return s.width() - sheetRight
}

// top is where the first panel begins: below as many rows as the marks need.
func (s *Sheet) top() float64 {
	rows := 0
	for _, m := range s.placed() {
		rows = max(rows, m.row+1)
	}
	return markRow*float64(rows) + 3
}

// placedMark is a mark with its place; row is -1 where its number finds no room.
type placedMark struct {
	*SheetMark
	x   float64
	row int
}

// placed gives each mark in the sheet's time a row for its number, so that
// neighbours stay readable.
func (s *Sheet) placed() (out []placedMark) {
	last := [markRows]float64{}
	for i := range last {
		last[i] = math.Inf(-1)
	}
	for i := range s.Marks {
		m := &s.Marks[i]
		if !(m.T >= s.From && m.T <= s.To) {
			continue
		}
		if len(out) == maxSheetMarks {
			break
		}
		p := placedMark{m, s.x(m.T), -1}
		for row := range last {
			if p.x-last[row] >= markGap {
				p.row, last[row] = row, p.x
				break
			}
		}
		out = append(out, p)
	}
	return out
}

func (p *Panel) plotHeight() float64 {
	if p.Switch {
		return switchHeight
	}
	return panelHeight
}

// valid reports whether there is anything to draw with.
func (s *Sheet) valid() bool {
	if !(s.To > s.From) || math.IsInf(s.To-s.From, 0) || len(s.Panels) == 0 {
		return false
	}
	for i := range s.Panels {
		if p := &s.Panels[i]; !p.Switch && !(p.MinSpan > 0) {
			return false
		}
	}
	return true
}

// x returns a time's place.
func (s *Sheet) x(t float64) float64 {
	t = math.Min(math.Max(t, s.From), s.To)
	return s.left() + (s.right()-s.left())*(t-s.From)/(s.To-s.From)
}

// segments are the unbroken runs of known bands.
func (p *Panel) segments() []segment {
	var out []segment
	open := false
	for i := range p.Bands {
		b := &p.Bands[i]
		if !b.drawn() {
			open = false
			continue
		}
		if !open {
			out = append(out, segment{from: b.From})
			open = true
		}
		seg := &out[len(out)-1]
		seg.to = b.To
		seg.buckets = append(seg.buckets, bucket{n: int64(i), min: b.Min, max: b.Max})
	}
	return out
}

// drawn reports whether the band has numbers.
func (b *Band) drawn() bool {
	return b.Kind == Known && !math.IsNaN(b.Min) && !math.IsNaN(b.Max) && !math.IsInf(b.Min, 0) && !math.IsInf(b.Max, 0)
}

// scale chooses the panel's axis as that of a strip chart.
func (p *Panel) scale() scale {
	if p.Switch {
		return scale{lo: -0.15, hi: 1.15, step: 1}
	}
	strip := Plot{Limits: p.Limits, MinSpan: p.MinSpan}
	return strip.scale(p.segments())
}

// OffScale returns the limits that lie too far away to be drawn; the caller
// tells of them in words.
func (p *Panel) OffScale() []Limit {
	if p.Switch || !(p.MinSpan > 0) {
		return nil
	}
	sc := p.scale()
	var out []Limit
	for _, l := range p.Limits {
		if !sc.holds(l.Y) {
			out = append(out, l)
		}
	}
	return out
}

// steps of time axes, in seconds.
var steps = []float64{
	0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400,
	2 * 86400, 7 * 86400, 14 * 86400, 28 * 86400, 91 * 86400,
}

// TimeTicks returns up to nine round times between from and to, counted from
// zero, with their labels; label is given the time and the step between two.
func TimeTicks(from, to, zero float64, label func(t, step float64) string) (out []Tick) {
	if !(to > from) || math.IsInf(to-from, 0) {
		return nil
	}
	step := steps[len(steps)-1]
	for _, s := range steps {
		if (to-from)/s <= 8 {
			step = s
			break
		}
	}
	for k := math.Ceil((from - zero) / step); len(out) < 200; k++ {
		t := zero + k*step
		if t > to {
			break
		}
		out = append(out, Tick{T: t, Label: label(t, step)})
	}
	return out
}
