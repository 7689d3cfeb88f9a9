package imported

import (
	"errors"
	"io"
	"iter"
	"time"

	"headroom/daemon/store"
	"headroom/rules/frame"
)

// puller turns a loop's frames into rows that are asked for.
type puller struct {
	get  func() (store.Tick, error, bool)
	stop func()
}

func newPuller(frames iter.Seq2[store.Tick, error]) *puller {
	p := &puller{}
	p.get, p.stop = iter.Pull2(frames)
	return p
}

// next gives the next frame that there is; spans that were lost are passed
// over, and are gaps here as they were in the file.
func (p *puller) next(f *frame.Frame) (time.Duration, time.Time, error) {
	for {
		tick, err, ok := p.get()
		if !ok {
			return 0, time.Time{}, io.EOF
		}
		var lost *store.LostError
		if errors.As(err, &lost) {
			continue
		}
		*f = tick.Frame
		return tick.T, tick.Wall, err
	}
}
