package review

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"headroom/daemon/store"
	"headroom/rules/frame"
)

// Verify recomputes every figure of an account that rests on samples or
// frames, and looks up every alarm, act and sum, and returns in words what
// differs; nothing means that the account says what the record holds. It reads
// the record anew and takes no figure from Tell, but both use the same median,
// and it does not search for changes again: it shows that what is told is so, not
// that all was told.
func Verify(ctx context.Context, r Record, a *Account) (differs []string, err error) {
	v := verifier{ctx: ctx, r: r, a: a}
	if v.events, err = r.Events(ctx, RunID{Boot: a.Head.ID.Boot}); err != nil {
		return nil, err
	}
	if v.acts, err = r.Acts(ctx, RunID{Boot: a.Head.ID.Boot}); err != nil {
		return nil, err
	}
	for _, list := range [][]Sentence{a.Sentences, a.CannotTell} {
		for i := range list {
			s := &list[i]
			for k := range s.Evidence {
				if err := v.check(&s.Evidence[k]); err != nil {
					differs = append(differs, fmt.Sprintf("sentence %d (%s), evidence %d: %v", s.N, s.Kind, k+1, err))
				}
			}
			for k := range s.Parts {
				if e := s.Parts[k].Evidence; e > 0 && (e > len(s.Evidence) || s.Evidence[e-1].Value != s.Parts[k].Value) {
					differs = append(differs, fmt.Sprintf("sentence %d (%s) shows another value than its evidence", s.N, s.Kind))
				}
			}
		}
	}
	return differs, ctx.Err()
}

type verifier struct {
	ctx    context.Context
	r      Record
	a      *Account
	events []store.Event
	acts   []store.Act
}

func (v *verifier) check(e *Evidence) error {
	if e.To < e.From {
		return errors.New("it ends before it begins")
	}
	if e.HasValue && (math.IsNaN(e.Value) || math.IsInf(e.Value, 0)) {
		return errors.New("its value is no number")
	}
	switch e.Basis {
	case OnSamples:
		return v.samples(e)
	case OnFrames:
		return v.frames(e)
	case OnAlarm:
		return v.alarm(e)
	case OnAct:
		for i := range v.acts {
			if v.acts[i].N == e.N && v.acts[i].T == e.From && v.acts[i].What == e.Name {
				return nil
			}
		}
		return fmt.Errorf("the record has no act %d at %v", e.N, e.From)
	}
	return nil
}

// span reads the frames of the evidence.
func (v *verifier) span(e *Evidence, take func(k *store.Tick)) error {
	if e.From <= 0 || e.To <= 0 {
		return nil
	}
	for k, err := range v.r.Frames(v.ctx, RunID{Boot: v.a.Head.ID.Boot}, e.From, e.To) {
		var lost *store.LostError
		if errors.As(err, &lost) {
			continue
		}
		if err != nil {
			return err
		}
		take(&k)
	}
	return nil
}

func (v *verifier) samples(e *Evidence) error {
	var ok []float64
	n := 0
	err := v.span(e, func(k *store.Tick) {
		smp := k.Frame.Samples[e.Channel]
		n++
		if smp.OK() && !math.IsNaN(smp.Value) && !math.IsInf(smp.Value, 0) {
			ok = append(ok, smp.Value)
		}
	})
	if err != nil {
		return err
	}
	if e.Figure == Unusable {
		return same(e, float64(n-len(ok))/float64(max(n, 1)), n)
	}
	if len(ok) == 0 {
		return fmt.Errorf("%v has no usable sample from %v to %v", e.Channel, e.From, e.To)
	}
	switch e.Figure {
	case Median:
		return same(e, median(ok), len(ok))
	case First:
		return same(e, ok[0], len(ok))
	case Last:
		return same(e, ok[len(ok)-1], len(ok))
	}
	return fmt.Errorf("figure %q is unknown", e.Figure)
}

func same(e *Evidence, value float64, n int) error {
	if value != e.Value || n != e.Count {
		return fmt.Errorf("%s of %v from %v to %v is %v over %d, not %v over %d", e.Figure, e.Channel, e.From, e.To, value, n, e.Value, e.Count)
	}
	return nil
}

// frames checks a span: frames at both ends, or none between them.
func (v *verifier) frames(e *Evidence) error {
	if e.Value != (e.To - e.From).Seconds() {
		return errors.New("it does not last as long as it says")
	}
	var first, last time.Duration
	inside := 0
	err := v.span(e, func(k *store.Tick) {
		if first == 0 {
			first = k.T
		}
		last = k.T
		if k.T > e.From && k.T < e.To {
			inside++
		}
	})
	switch {
	case err != nil:
		return err
	case e.Figure == NoFrame && inside > 0:
		return fmt.Errorf("there are %d frames between %v and %v", inside, e.From, e.To)
	case e.Figure == Lasts && e.Channel < frame.NumChannels && (first != e.From || last != e.To):
		return fmt.Errorf("no frames stand at %v and %v", e.From, e.To)
	}
	return nil
}

func (v *verifier) alarm(e *Evidence) error {
	for i := range v.events {
		x := &v.events[i]
		if x.Alarm == e.Name && x.T == e.From && (!e.HasValue || x.Value != nil && *x.Value == e.Value) {
			return nil
		}
	}
	return fmt.Errorf("the record has no alarm %s at %v", e.Name, e.From)
}
