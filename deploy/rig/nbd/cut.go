package nbd

// tornShare of the sectors that a cut loses were being written when it came.
// Our choice, no source; a real card promises nothing here either way.
const tornShare = 0.1

// leave works out what a cut leaves: image is what was flushed, and is changed
// into that. Each sector of the cache is lost with a chance that is itself
// drawn anew for each cut: nearly all lost, and nearly none, are the cases that
// bite. Any set of sectors may so survive, which is all that writing them in
// another order could do; a kept sector may be an older one.
func (d *Disk) leave(image []byte) Outcome {
	o := Outcome{Image: image, Writes: d.writes, Flushes: d.flushes}
	chance := d.random.Float64()
	for _, p := range d.cache {
		for at := 0; at < len(p.data); at += SectorBytes {
			sector := p.data[at:min(at+SectorBytes, len(p.data))]
			if d.random.Float64() < chance {
				copy(o.Image[p.offset+int64(at):], sector)
				o.Kept++
				continue
			}
			o.Lost++
			if d.random.Float64() < tornShare {
				o.Torn++
				copy(o.Image[p.offset+int64(at):], sector[:d.random.IntN(len(sector))])
			}
		}
	}
	return o
}

// camera takes pictures at chosen instants.
type camera struct {
	at    []int
	taken func(Outcome)
}

// Picture returns what a cut at this instant would leave; the disk goes on.
// After a cut it is what that left.
func (d *Disk) Picture() Outcome {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.picture()
}

func (d *Disk) picture() Outcome {
	if d.after != nil {
		o := *d.after
		o.Image = append([]byte(nil), o.Image...)
		return o
	}
	return d.leave(append([]byte(nil), d.durable...))
}

// Work returns how many sectors were written and how often they were flushed
// so far, as one sum, for the instants of PictureAt.
func (d *Disk) Work() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.work
}

// PictureAt has a picture taken when the disk's work reaches each of these, in
// ascending order: the write that it met is then one of those that may be
// lost, and a flush has done nothing. Sectors and not requests are counted,
// since a large request has more to lose. taken is called with the disk held,
// so that no answer leaves meanwhile; it must not call the disk.
func (d *Disk) PictureAt(at []int, taken func(Outcome)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.camera = camera{append([]int(nil), at...), taken}
}

// worked counts work and takes the pictures that are due.
func (d *Disk) worked(n int) {
	d.work += n
	for len(d.camera.at) > 0 && d.work >= d.camera.at[0] {
		d.camera.at = d.camera.at[1:]
		d.camera.taken(d.picture())
	}
}

// Insert puts a card with another content in, which it copies: as large as the
// first and with nothing in its cache. Nobody may have the disk mounted.
func (d *Disk) Insert(image []byte) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.current = append(d.current[:0], image...)
	d.durable = append(d.durable[:0], image...)
	d.cache = nil
}
