package engine

import (
	"encoding/binary"
	"math"
	"time"

	"headroom/rules/frame"
)

// String returns the alarm's name as it stands in recordings and metrics:
// "inlet_low.warn", "inlet_low.act" or "sensor.flow".
func (a AlarmID) String() string {
	if r, ok := a.Rule(); ok {
		if a == WarnAlarm(r) {
			return r.String() + ".warn"
		}
		return r.String() + ".act"
	}
	if c, ok := a.Channel(); ok {
		return "sensor." + c.String()
	}
	return "unknown_alarm"
}

// AlarmByName returns the alarm with that name; ok is false for none.
func AlarmByName(name string) (a AlarmID, ok bool) {
	for i := range AlarmID(NumAlarms) {
		if i.String() == name {
			return i, true
		}
	}
	return AlarmID(NumAlarms), false
}

// Append adds the verdicts to dst as a fixed sequence of bytes, every number
// to its last bit. Two runs over the same frames have judged the same exactly
// if these bytes are the same; a digest over them is how live, replay, amd64
// and arm64 are compared.
func (v *Verdicts) Append(dst []byte) []byte {
	dst = appendTime(dst, v.T)
	dst = append(dst, byte(v.Machine), byte(v.Level), byte(v.Blind), byte(v.Calling), flag(v.Gap), flag(v.Flood))
	dst = appendTime(dst, v.MachineSince)
	for i := range v.Samples {
		dst = append(dst, byte(v.Samples[i].Status))
		dst = appendFloat(dst, v.Samples[i].Value)
	}
	for i := range v.Rules {
		dst = v.Rules[i].append(dst)
	}
	for i := range v.Alarms {
		a := &v.Alarms[i]
		dst = append(dst, flag(a.Active), byte(a.Level), byte(a.Phase), flag(a.FirstOut), byte(a.Under), flag(a.HasCause), flag(a.Chatter))
		dst = appendTime(appendTime(appendTime(dst, a.Since), a.Onset), a.ShelvedUntil)
	}
	for i := range v.Transitions() {
		dst = v.changes[i].Append(dst)
	}
	return dst
}

func (v *Verdict) append(dst []byte) []byte {
	dst = append(dst, byte(v.Rule), byte(v.Judge), byte(v.Blame), byte(v.About), byte(v.Level), byte(v.Sure), flag(v.Assumed), v.n)
	for _, x := range [...]float64{v.Value, v.Limit, v.Headroom, v.Share, v.TimeToS, v.EarliestS, v.LatestS} {
		dst = appendFloat(dst, x)
	}
	for _, u := range v.Used() {
		dst = append(dst, byte(u.Term), flag(u.Assumed))
		dst = appendFloat(dst, u.Value)
	}
	return dst
}

// Append adds the transition to dst, every number to its last bit.
func (t *Transition) Append(dst []byte) []byte {
	dst = append(dst, byte(t.Alarm), flag(t.Raised), byte(t.Level), flag(t.First), byte(t.Machine), byte(t.Status), byte(t.Phase), byte(t.Under), flag(t.HasCause))
	dst = appendTime(appendTime(dst, t.T), t.Onset)
	return appendFloat(appendFloat(dst, t.Value), t.Limit)
}

func appendFloat(dst []byte, x float64) []byte {
	return binary.BigEndian.AppendUint64(dst, math.Float64bits(x))
}

func appendTime(dst []byte, t time.Duration) []byte {
	return binary.BigEndian.AppendUint64(dst, uint64(t))
}

func flag(b bool) byte {
	if b {
		return 1
	}
	return 0
}

// Every channel must fit where Append writes its number.
var _ = [256]struct{}{}[frame.NumChannels]
