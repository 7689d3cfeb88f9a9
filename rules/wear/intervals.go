package wear

// Task is a thing to look after.
type Task uint8

// The tasks, in the order a technician meets them.
const (
	// TaskInletFilter is looking at the inlet filter and cleaning it.
	TaskInletFilter Task = iota
	// TaskOilLevel is looking at the crankcase oil.
	TaskOilLevel
	// TaskHoses is looking over hoses and couplings.
	TaskHoses
	// TaskGroundFault is testing the ground-fault interrupter.
	TaskGroundFault
	// TaskDrive is looking at belt or coupling, its tension and guard.
	TaskDrive
	// TaskOilChange is changing the crankcase oil.
	TaskOilChange
	// TaskValves is inspecting the pump's valves, seats and springs.
	TaskValves
	// TaskPacking is inspecting packing and plungers.
	TaskPacking
	// TaskUnloader is inspecting the unloader's seat and seals.
	TaskUnloader
	// TaskStarter is inspecting the contacts of the motor's switch or starter.
	TaskStarter
	// NumTasks is how many there are.
	NumTasks
)

// taskNames are never written.
var taskNames = [NumTasks]string{
	TaskInletFilter: "inlet filter", TaskOilLevel: "oil level", TaskHoses: "hoses",
	TaskGroundFault: "ground-fault test", TaskDrive: "drive", TaskOilChange: "oil change",
	TaskValves: "valves", TaskPacking: "packing", TaskUnloader: "unloader", TaskStarter: "starter",
}

// String returns the task in plain words.
func (t Task) String() string {
	if t >= NumTasks {
		return "unknown task"
	}
	return taskNames[t]
}

// Interval says how often a task is due; the first of its limits that is
// passed counts. A limit of 0 isn't set.
type Interval struct {
	// FirstS is the running time in seconds until the first time, and EveryS
	// from then on. With FirstS 0 the first time is after EveryS.
	FirstS, EveryS float64
	// EveryStarts and EveryUses count starts and uses; 1 use means each time
	// before it runs.
	EveryStarts, EveryUses uint32
}

const hourS = 3600

// DefaultIntervals is a table to start from. Common practice, no source, every
// line editable: the maker's book of the pump at hand decides.
func DefaultIntervals() [NumTasks]Interval {
	return [NumTasks]Interval{
		TaskInletFilter: {EveryUses: 1},
		TaskOilLevel:    {EveryUses: 1},
		TaskHoses:       {EveryUses: 1},
		TaskGroundFault: {EveryUses: 1},
		TaskDrive:       {EveryS: 100 * hourS},
		TaskOilChange:   {FirstS: 50 * hourS, EveryS: 300 * hourS},
		TaskValves:      {EveryS: 500 * hourS},
		TaskPacking:     {EveryS: 500 * hourS},
		TaskUnloader:    {EveryS: 500 * hourS},
		TaskStarter:     {EveryStarts: 10000},
	}
}

// valid reports whether the times can be ones.
func (v Interval) valid() bool { return within(v.FirstS, 0, 1e10) && within(v.EveryS, 0, 1e10) }

// DefaultSoonFrac is the last part of an interval that counts as soon. Common
// practice, no source.
const DefaultSoonFrac = 0.1

// DueStatus grades a task.
type DueStatus uint8

// The statuses of a task, worse upwards from DueOff.
const (
	// DueUnknown: a setting or counter is out of range, or the counters stand
	// before the last service: they were replaced or set back.
	DueUnknown DueStatus = iota
	// DueOff: no interval is set.
	DueOff
	// DueOK: nothing to do.
	DueOK
	// DueSoon: within the last part of the interval.
	DueSoon
	// DueNow: due or overdue.
	DueNow
)

// String returns the status as one word in lower case.
func (s DueStatus) String() string {
	switch s {
	case DueOff:
		return "off"
	case DueOK:
		return "ok"
	case DueSoon:
		return "soon"
	case DueNow:
		return "due"
	}
	return "unknown"
}

// Due is the state of one task.
type Due struct {
	Status DueStatus
	// LeftS is the running time left in seconds, LeftStarts and LeftUses the
	// starts and uses; negative when overdue. Each holds only with its flag.
	LeftS                    float64
	LeftStarts, LeftUses     int64
	ByTime, ByStarts, ByUses bool
}

// Assess grades one task from its interval, its last service and the counters
// now; soonFrac runs from 0 to 1.
// Source: none needed; differences.
func (v Interval) Assess(s Service, now Counters, soonFrac float64) Due {
	every := v.EveryS
	if !s.Done {
		s.At = Counters{}
		if v.FirstS > 0 {
			every = v.FirstS
		}
	}
	if !v.valid() || !now.valid() || !s.At.valid() || !within(soonFrac, 0, 1) ||
		now.RunS < s.At.RunS || now.Starts < s.At.Starts || now.Uses < s.At.Uses {
		return Due{}
	}
	d := Due{Status: DueOff}
	if every > 0 {
		d.ByTime, d.LeftS = true, s.At.RunS+every-now.RunS
		d.Status = max(d.Status, grade(d.LeftS, every, soonFrac))
	}
	if v.EveryStarts > 0 {
		d.ByStarts, d.LeftStarts = true, left(s.At.Starts, v.EveryStarts, now.Starts)
		d.Status = max(d.Status, grade(float64(d.LeftStarts), float64(v.EveryStarts), soonFrac))
	}
	if v.EveryUses > 0 {
		d.ByUses, d.LeftUses = true, left(s.At.Uses, v.EveryUses, now.Uses)
		d.Status = max(d.Status, grade(float64(d.LeftUses), float64(v.EveryUses), soonFrac))
	}
	return d
}

// left is at + every - now without overflow.
func left(at, every, now uint32) int64 { return int64(at) + int64(every) - int64(now) }

// grade turns what is left of an interval into a status.
func grade(left, every, soonFrac float64) DueStatus {
	switch {
	case left <= 0:
		return DueNow
	case left <= soonFrac*every:
		return DueSoon
	}
	return DueOK
}

// AssessAll grades every task. It doesn't allocate.
func AssessAll(v *[NumTasks]Interval, s *[NumTasks]Service, now Counters, soonFrac float64) (d [NumTasks]Due) {
	for i := range d {
		d[i] = v[i].Assess(s[i], now, soonFrac)
	}
	return d
}
