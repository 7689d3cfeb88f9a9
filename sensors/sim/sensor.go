package sim

import (
	"math"
	"math/rand/v2"
	"time"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/plant"
)

// sensor is one channel's sensor at work. Each has its own source of noise, so
// that fitting another one changes nothing here.
type sensor struct {
	model
	channel  frame.Channel
	noiseSrc *rand.Rand
	next     time.Duration
	lagged   float64
	primed   bool
	meter    flowMeter
	// shown is the last value, which stays where the sensor is stuck.
	shown    float64
	hasShown bool
	// waiting is a measurement that is not yet ready.
	waiting    sensors.Reading
	hasWaiting bool
}

func newSensor(c frame.Channel, seed uint64) sensor {
	return sensor{model: models[c], channel: c, noiseSrc: rand.New(rand.NewPCG(seed, uint64(c)+1))}
}

// tick lets the sensor follow the plant for one step and read when it is time.
// at is the time within the scenario.
func (n *sensor) tick(s *Sim, at time.Duration, post func(sensors.Reading)) {
	v := truth(n.channel, s.plant, &s.state, &s.in)
	if n.channel == frame.Flow {
		n.meter.turn(v, s.now)
	}
	n.follow(v)
	if n.hasWaiting && s.now >= n.waiting.At+n.latency {
		post(n.waiting)
		n.hasWaiting = false
	}
	if s.now < n.next {
		return
	}
	n.next = s.now + n.period
	r := n.read(s, at)
	if n.latency > 0 {
		n.waiting, n.hasWaiting = r, true
		return
	}
	post(r)
}

func (n *sensor) follow(v float64) {
	if n.lagS <= 0 || !n.primed {
		n.lagged, n.primed = v, true
		return
	}
	n.lagged += (v - n.lagged) * step.Seconds() / (n.lagS + step.Seconds())
}

// read makes a reading of what the sensor sees now.
func (n *sensor) read(s *Sim, at time.Duration) sensors.Reading {
	r := sensors.Reading{Channel: n.channel, At: s.now, Sample: frame.Sample{Status: frame.Good}}
	trouble := s.opt.Scenario.Trouble(n.channel, at)
	value := n.measure(s) + trouble.Drift
	switch {
	case trouble.WireOff:
		r.Sample = frame.Sample{Value: n.shown, Status: frame.Failed}
		r.Note = n.wireOff()
		return r
	case trouble.Stuck && n.hasShown:
		r.Sample.Value = n.shown
		return r
	}
	if n.quantum > 0 {
		value = math.Round(value/n.quantum) * n.quantum
	}
	if value < n.lo || value > n.hi {
		value = math.Min(math.Max(value, n.lo), n.hi)
		// A pressure of a little below nothing is noise; beyond the top of the
		// range nobody knows how much it is.
		if value == n.hi && !n.channel.Digital() {
			r.Sample.Status, r.Note = frame.OutOfBand, "at the top of the sensor's range"
		}
	}
	n.shown, n.hasShown = value, true
	r.Sample.Value = value
	return r
}

// measure is the value with the sensor's noise, before the converter.
func (n *sensor) measure(s *Sim) float64 {
	v := n.lagged
	if n.channel == frame.Flow {
		v = n.meter.read(s.now)
	}
	noise := sigma(n.channel, v, s.plant, &s.state)
	if noise == 0 || s.opt.Noiseless {
		return v
	}
	return v + noise*n.noiseSrc.NormFloat64()
}

// sigma is the standard deviation of the noise of one reading of v.
func sigma(c frame.Channel, v float64, p *plant.Plant, s *plant.State) float64 {
	noise := models[c].noise + models[c].rough*math.Abs(v)
	if c == frame.InletPressure {
		// A slow converter catches part of the strokes' pulsation.
		noise += 0.3 * pulsation(p, s)
	}
	return noise
}

func (n *sensor) wireOff() string {
	switch n.channel {
	case frame.WaterTemp, frame.AmbientTemp, frame.MotorTemp:
		return "no answer from the thermometer: wire off"
	case frame.InletPressure, frame.OutletPressure, frame.MotorCurrent, frame.TankLevel:
		return "loop current 0.0 mA: wire off"
	}
	return "no signal: wire off"
}

// The flow meter: a small turbine that gives pulses. Below its least flow it
// stands still. Invented figures.
const (
	pulsesPerM3 = 1e6
	leastM3s    = 5e-6
	// stoppedAfter is how long without a pulse means no flow.
	stoppedAfter = time.Second
)

// flowMeter counts pulses and times them, as a counter with a clock does: the
// flow is the pulses over the time between the first and the last, so a
// coarse meter still reads finely.
type flowMeter struct {
	phase       float64
	pulses      int
	first, last time.Duration
	rate        float64
}

// turn moves the turbine for one step that ends at now.
func (m *flowMeter) turn(flowM3s float64, now time.Duration) {
	if flowM3s < leastM3s {
		return
	}
	d := flowM3s * pulsesPerM3 * step.Seconds()
	m.phase += d
	if n := math.Floor(m.phase); n > 0 {
		m.phase -= n
		m.pulses += int(n)
		m.last = now - time.Duration(m.phase/d*float64(step))
	}
}

// read returns the flow since the last reading. While no new pulse comes, the
// flow can be no more than one pulse over the time waited.
func (m *flowMeter) read(now time.Duration) float64 {
	switch {
	case m.pulses > 0 && now-m.first > stoppedAfter+250*time.Millisecond:
		m.rate = 0 // the first pulses after a rest only start the clock
	case m.pulses > 0:
		m.rate = float64(m.pulses) / (m.last - m.first).Seconds() / pulsesPerM3
	case now-m.last >= stoppedAfter:
		m.rate = 0
	case now > m.last:
		m.rate = min(m.rate, 1/(now-m.last).Seconds()/pulsesPerM3)
	}
	if m.pulses > 0 {
		m.first, m.pulses = m.last, 0
	}
	return m.rate
}
