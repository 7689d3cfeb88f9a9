package notify

import (
	"context"
	"fmt"
	"time"
)

// Sink is a protocol that takes notifications. Its methods are called from one
// goroutine, one at a time, and each must come back when its context ends.
type Sink interface {
	// Kind is the protocol's name for logs and metrics.
	Kind() string
	// Traits say how the sink wants to be fed. They don't change.
	Traits() Traits
	// Send delivers a batch; nil means that the target has taken all of it.
	// An error is tried again, unless it is a *Failure that says otherwise.
	Send(ctx context.Context, batch []Notification) error
	// Close says goodbye. It is called once, after the last Send.
	Close(ctx context.Context) error
}

// Session is a Sink that keeps a connection. Open is called at the start and
// whenever the connection was lost, also while there is nothing to send; after
// it every alarm's state is sent again.
type Session interface {
	Sink
	// Open connects anew, dropping an old connection.
	Open(ctx context.Context) error
	// Lost is closed when the connection that Open made has ended, and nil
	// when there is none.
	Lost() <-chan struct{}
}

// Traits say how a sink wants to be fed.
type Traits struct {
	// Batch is the most notifications in one Send, at least 1.
	Batch int
	// Repeat is how often standing alarms are sent again; 0 is never.
	Repeat time.Duration
	// Linger is how long alarms that have returned are repeated too.
	Linger time.Duration
}

// Failure is an error of a Send or Open that says how to go on.
type Failure struct {
	Err error
	// Refused: this content will never be taken, so it is given up.
	Refused bool
	// After is how long the target asks to be left alone; 0 when it doesn't.
	After time.Duration
}

// Error returns the words of Err.
func (f *Failure) Error() string { return f.Err.Error() }

// Unwrap returns Err.
func (f *Failure) Unwrap() error { return f.Err }

// guard turns a panic into an error: a broken target must cost its own
// messages and not the watch over the machine.
func guard(what string, f func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("cannot %s: the sink broke: %v", what, p)
		}
	}()
	return f()
}
