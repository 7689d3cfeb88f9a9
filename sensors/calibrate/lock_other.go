//go:build !unix

package calibrate

// lockFolder has no lock on this system: one program at a time.
func lockFolder(string) (unlock func(), err error) { return func() {}, nil }
