package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"crypto/tls"

	"headroom/daemon/access"
	"headroom/daemon/app"
	"headroom/daemon/config"
	"headroom/daemon/localtls"
)

// guardChanges gives the program its gate.
func (o *runFlags) guardChanges(opt *app.Options) error {
	dir, err := o.accessFolder(opt)
	if err != nil {
		return err
	}
	opt.PINCommand = pinCommand(opt.Folder)
	if opt.Gate, err = access.Open(dir, access.Options{}); err != nil {
		// The watching is worth more than the changes.
		opt.Log.Error("nothing can be changed on the dashboard", "error", err)
		return nil
	}
	o.access = dir
	return nil
}

// givePIN is for a program that is sure to start: where nobody has drawn a PIN
// and a person is looking, one is drawn and shown to that person, as a log would
// keep it for everybody. A PIN that can't be read is left for its owner to mend.
func (o *runFlags) givePIN(opt *app.Options, io stdio) {
	if opt.Listen == "" || o.access == "" || opt.Gate.HasPIN() {
		return
	}
	if !isTerminal(io.out) {
		opt.Log.Warn("nothing can be changed on the dashboard yet: this device has no PIN", "draw_one_with", pinCommand(opt.Folder))
		return
	}
	pin, err := access.NewPIN(o.access)
	if err != nil {
		opt.Log.Warn("nothing can be changed on the dashboard", "error", err)
		return
	}
	fmt.Fprintf(io.out, "PIN for changes on the dashboard: %s  (shown this once; %s draws another)\n", pin, pinCommand(opt.Folder))
}

// pinCommand is what draws a PIN for the program that keeps its record in a
// folder, to be typed as it is.
func pinCommand(folder string) string {
	if folder == "" {
		return "headroom pin new"
	}
	if whole, err := filepath.Abs(folder); err == nil {
		folder = whole
	}
	return "headroom pin new -record " + shellWord(folder)
}

// shellWord quotes a word where a shell would take it apart.
func shellWord(s string) string {
	if s != "" && !strings.ContainsFunc(s, func(r rune) bool {
		return !(r == '/' || r == '.' || r == '-' || r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z')
	}) {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}

// accessFolder is where the PIN is kept: beside the record, or, where nothing
// is kept, in a folder that lasts as long as the program.
func (o *runFlags) accessFolder(opt *app.Options) (string, error) {
	if opt.Folder != "" {
		return access.Folder(opt.Folder), nil
	}
	dir, err := os.MkdirTemp("", "headroom-access-")
	if err != nil {
		return "", fmt.Errorf("cannot make a folder for the PIN: %w", err)
	}
	o.brief = dir
	return dir, nil
}

// forgetPIN removes what accessFolder made; what can't be removed holds a hash.
func (o *runFlags) forgetPIN() {
	if o.brief != "" {
		_ = os.RemoveAll(o.brief)
	}
}

// isTerminal reports whether a person sees what is written there.
func isTerminal(w any) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0 && info.Name() != os.DevNull
}

// encrypt loads or makes the certificate that the config asks for.
func encrypt(cfg *config.Config, opt *app.Options) error {
	var cert tls.Certificate
	var err error
	switch cfg.Server.TLS {
	case config.TLSFiles:
		if cert, err = tls.LoadX509KeyPair(cfg.Server.Cert, cfg.Server.Key); err != nil {
			return fmt.Errorf("cannot use server.tls_cert and server.tls_key: %w", err)
		}
	case config.TLSLocal:
		if opt.Folder == "" {
			return errors.New(`server.tls = "local" needs a record's folder to keep the certificate in; name one with -record`)
		}
		names, err := localtls.Names()
		if err != nil {
			return err
		}
		if cert, err = localtls.Local(access.Folder(opt.Folder), append(names, cfg.Server.Hosts...), time.Now()); err != nil {
			return err
		}
		opt.Log.Info("the device's own certificate", "sha256", localtls.Fingerprint(cert), "until", cert.Leaf.NotAfter.Format(time.DateOnly))
	default:
		return nil
	}
	opt.Certificate = &cert
	return nil
}
