//go:build rig

package rig

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/rig/nbd"
)

// The power fails at random instants while a record is written on a disk with
// a volatile cache. Every other boot of the guest ends with the plug: the disk
// freezes in the middle of a request and QEMU is killed. Between, the same
// loss is worked out at many more instants (a picture), and each of these disks
// is put in, mounted and opened as after a cut. Nothing that was said to be
// safe may be missing; and since that is said for each second, no more than
// the last second is lost.
func TestPowerCuts(t *testing.T) {
	plugs, pictures := 2, 9
	if *long {
		plugs, pictures = 20, 9
	}
	c := newCuts(t)
	for i := range plugs {
		if i%chain == 0 {
			c.freshDisk()
		}
		c.cycle(pictures)
	}
	c.lastCheck()
	t.Logf("%d cuts, %d of them with the plug; of unflushed sectors %d were kept and %d lost, %d of these torn; frames beyond the last word of safety that survived all the same: %d",
		c.cuts, plugs, c.kept, c.lost, c.torn, c.beyond)
	t.Logf("file systems that the kernel wouldn't mount before: %v", c.mended)
	require.Equal(t, plugs*(pictures+1), c.cuts)
	require.Positive(t, c.lost, "a disk that loses nothing shows nothing")
	require.LessOrEqual(t, c.gap, 10, "something is said to be safe once a second")
}

// The control: the same program on the same disk, but its syncs do nothing.
// What it says to be safe must be found missing, or the test above is worth
// nothing.
func TestPowerCutsWithoutSyncsLose(t *testing.T) {
	c := newCuts(t)
	c.freshDisk()
	c.program = "unsynced"
	g := c.boot()
	g.do("disk mount")
	list := c.record(g, 8)
	missing, shut := 0, 0
	for _, p := range list {
		f, err := g.check(c.card, p.Image, 1)
		f.wrong = nil // only what is missing counts here
		switch {
		case err != nil:
			shut++
		case f.lost(p.safe, nil) != "":
			missing++
		}
	}
	t.Logf("without syncs %d of %d cuts lost what was said to be safe, and %d left nothing that could be opened", missing, len(list), shut)
	require.Positive(t, missing)
	g.end()
}

// chain is how many plugs one record goes through before a new one.
const chain = 4

// cuts is a series of cuts over records that go on from boot to boot.
type cuts struct {
	t       *testing.T
	random  *rand.Rand
	program string // start or unsynced
	content []byte
	card    *card
	said    *ledger
	// before is what was found of earlier boots.
	before map[uint64]counts
	// due is what was safe when the plug was pulled last.
	due map[uint64]counts

	cuts, kept, lost, torn, beyond, gap int
	// mended counts file systems that the kernel refused, by what mended them.
	mended map[string]int
}

func newCuts(t *testing.T) *cuts {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	return &cuts{t: t, random: rand.New(rand.NewPCG(seed, 1)), program: "start", mended: map[string]int{}}
}

// freshDisk begins a new record.
func (c *cuts) freshDisk() {
	c.t.Helper()
	if c.due != nil {
		c.lastCheck()
	}
	c.content, c.before, c.due = freshCard(c.t), map[uint64]counts{}, nil
}

// boot boots the guest with the disk as it is.
func (c *cuts) boot() *guest {
	c.t.Helper()
	c.card = insert(c.t, c.content, c.random.Uint64())
	c.said = &ledger{}
	c.said.begin(nil)
	g := bootImage(c.t, recorderImage, Options{Disk: c.card.socket, Log: c.said.hear})
	return g
}

// cycle is a boot: it checks what the last plug left, records while pictures
// are taken, checks these, goes on from the last of them, and pulls the plug.
func (c *cuts) cycle(pictures int) {
	c.t.Helper()
	begin := time.Now()
	g := c.boot()
	c.checkDue(g)
	g.do("disk mount")
	var last found
	for _, p := range c.record(g, pictures) {
		last = c.judge(g, p)
	}
	// The disk of the last picture is in; it goes on from there.
	c.before = last.boots
	g.do("disk mount")
	c.pull(g)
	c.t.Logf("%d cuts; the last %d took %.0f s", c.cuts, pictures+1, time.Since(begin).Seconds())
}

// checkDue opens what the last plug left.
func (c *cuts) checkDue(g *guest) {
	c.t.Helper()
	if c.due == nil {
		return
	}
	f, err := g.check(c.card, c.content, c.from())
	require.NoError(c.t, err)
	require.Empty(c.t, f.lost(c.due, c.before), "after the plug was pulled")
	c.survived(f, c.due)
	c.before, c.due = f.boots, nil
}

// lastCheck boots only to look at what the last plug left.
func (c *cuts) lastCheck() {
	c.t.Helper()
	g := c.boot()
	c.checkDue(g)
	g.end()
}

// from is the first boot whose frames are compared one by one; of those before
// it is known that they were right once, and how many.
func (c *cuts) from() uint64 {
	newest := uint64(0)
	for b := range c.before {
		newest = max(newest, b)
	}
	return newest
}

// record starts the recorder and returns pictures: half of them in the middle
// of the disk's work, half at the instant when something was said to be safe.
func (c *cuts) record(g *guest, pictures int) []picture {
	c.t.Helper()
	taken := make(chan picture, pictures)
	c.card.disk.PictureAt(instants(c.random, c.card.disk.Work(), pictures-pictures/2, workSpan), func(o nbd.Outcome) {
		taken <- picture{o, c.said.now()}
	})
	words, next := instants(c.random, 0, pictures/2, wordSpan), 0
	c.said.begin(func(safe map[uint64]counts) {
		for next++; len(words) > 0 && next >= words[0]; words = words[1:] {
			taken <- picture{c.card.disk.Picture(), safe}
		}
	})
	g.do("child %s rec 0 /recorder write /data/record", c.program)
	var list []picture
	for len(list) < pictures {
		select {
		case p := <-taken:
			list = append(list, p)
		case <-time.After(time.Minute):
			require.FailNow(c.t, "the recorder writes too little", "%d of %d pictures; %s", len(list), pictures, c.said.lastWords())
		}
	}
	g.do("child signal rec KILL")
	g.do("disk umount")
	c.gap = max(c.gap, c.said.gap)
	return list
}

// The instants lie within so much of the disk's work, or so many requests or
// words of safety, from the start of the recorder: some seconds, in which the
// record is opened, written, and sealed often.
const workSpan, requestSpan, wordSpan = 10_000, 1500, 300

// judge checks one picture.
func (c *cuts) judge(g *guest, p picture) found {
	c.t.Helper()
	f, err := g.check(c.card, p.Image, c.from())
	require.NoError(c.t, err)
	require.Empty(c.t, f.lost(p.safe, c.before), "cut after %d writes and %d flushes", p.Writes, p.Flushes)
	c.survived(f, p.safe)
	c.kept, c.lost, c.torn = c.kept+p.Kept, c.lost+p.Lost, c.torn+p.Torn
	return f
}

// survived counts what was there beyond what had to be.
func (c *cuts) survived(f found, safe map[uint64]counts) {
	c.cuts++
	if f.mended != "" {
		c.mended[f.mended]++
	}
	for b, s := range safe {
		c.beyond += f.boots[b].frames - s.frames
	}
}

// pull records once more and pulls the plug: the disk freezes at a random
// write or flush, and then QEMU is killed.
func (c *cuts) pull(g *guest) {
	c.t.Helper()
	c.said.begin(nil)
	writes, flushes := c.card.disk.Counts()
	at := nbd.Faults{CutAtWrite: writes + 1 + c.random.IntN(requestSpan/2)}
	if c.random.IntN(2) == 0 {
		at = nbd.Faults{CutAtFlush: flushes + 1 + c.random.IntN(requestSpan/2)}
	}
	c.card.disk.SetFaults(at)
	g.do("child %s rec 0 /recorder write /data/record", c.program)
	select {
	case <-c.card.disk.Off():
	case <-time.After(time.Minute):
		require.FailNow(c.t, "the disk was never cut", c.said.lastWords())
	}
	// What was said before the cut may still be on its way.
	time.Sleep(200 * time.Millisecond)
	g.Kill()
	o := c.card.disk.Cut()
	c.content, c.due = o.Image, c.said.now()
	c.kept, c.lost, c.torn = c.kept+o.Kept, c.lost+o.Lost, c.torn+o.Torn
	c.gap = max(c.gap, c.said.gap)
}
