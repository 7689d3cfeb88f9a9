package notify

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/engine"
)

func emptyQueue() *queue {
	var blanks [engine.NumAlarms]Notification
	for i := range blanks {
		blanks[i].Alarm = engine.AlarmID(i)
	}
	return newQueue(&blanks)
}

func TestQueueGivesTheUrgentFirst(t *testing.T) {
	q := emptyQueue()
	q.put(Notification{Alarm: 3, Seq: 1, State: Returned, Level: engine.Act})
	q.put(Notification{Alarm: 4, Seq: 2, State: Raised, Level: engine.Advice})
	q.put(Notification{Alarm: 5, Seq: 3, State: Raised, Level: engine.Act})
	q.put(Notification{Alarm: 6, Seq: 4, State: Raised, Level: engine.Act})
	var order []engine.AlarmID
	for range 4 {
		order = append(order, q.take(1)[0].Alarm)
	}
	require.Equal(t, []engine.AlarmID{5, 6, 4, 3}, order)
	require.Empty(t, q.take(1))
}

func TestQueueRepeats(t *testing.T) {
	q := emptyQueue()
	now := time.Now()
	q.put(Notification{Alarm: 1, State: Raised, at: now.Add(-time.Hour)})
	q.put(Notification{Alarm: 2, State: Returned, at: now.Add(-time.Hour)})
	q.put(Notification{Alarm: 3, State: Returned, at: now.Add(-time.Minute)})
	news, repeats := q.done(q.take(9))
	require.Equal(t, [2]uint64{3, 0}, [2]uint64{news, repeats})

	q.repeat(now.Add(-10 * time.Minute))
	batch := q.take(9)
	require.Len(t, batch, 2, "what stands, and what has gone back lately")
	news, repeats = q.done(batch)
	require.Equal(t, [2]uint64{0, 2}, [2]uint64{news, repeats})

	q.repeatAll()
	require.Len(t, q.take(1000), engine.NumAlarms)
}

// Whatever happens, the newest state is what is sent, nothing is ever lost
// without being counted, and the queue never holds more than one state of an
// alarm.
func TestQueueAgainstModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := emptyQueue()
		var newest, delivered [engine.NumAlarms]uint64
		var puts, sent uint64
		var flying []Notification
		give := func(ok bool) {
			if ok {
				news, _ := q.done(flying)
				sent += news
				for _, n := range flying {
					require.GreaterOrEqual(t, n.Seq, delivered[n.Alarm], "an older state overtook a newer one")
					delivered[n.Alarm] = n.Seq
				}
			} else {
				q.retry(flying)
			}
			flying = nil
		}
		for range rapid.IntRange(1, 200).Draw(t, "steps") {
			switch rapid.IntRange(0, 3).Draw(t, "what") {
			case 0, 1:
				puts++
				a := engine.AlarmID(rapid.IntRange(0, 5).Draw(t, "alarm"))
				newest[a] = puts
				q.put(Notification{Alarm: a, Seq: puts, State: Raised})
			case 2:
				if flying == nil {
					flying = q.take(rapid.IntRange(1, 4).Draw(t, "most"))
				}
			case 3:
				if flying == nil {
					q.repeat(time.Time{})
					break
				}
				give(rapid.Bool().Draw(t, "delivered"))
			}
			waiting, news := q.pending()
			require.LessOrEqual(t, waiting, engine.NumAlarms)
			require.LessOrEqual(t, news, waiting)
		}
		give(true)
		for flying = q.take(3); len(flying) > 0; flying = q.take(3) {
			give(true)
		}
		require.Equal(t, puts, sent+q.drops(), "every state is sent or counted as coalesced")
		require.Equal(t, newest, delivered)
	})
}
