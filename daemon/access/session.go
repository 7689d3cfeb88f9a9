package access

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"os"
	"time"

	"headroom/daemon/wholefile"
)

const (
	// maxSessions is more phones than a crew has; the one that was used longest
	// ago makes room.
	maxSessions = 16
	// SessionAge is how long a session lasts that nobody uses.
	SessionAge = 30 * 24 * time.Hour
	// noteEvery is how exactly a session's last use is kept: often enough for
	// its age, seldom enough for the card.
	noteEvery = 24 * time.Hour
)

// clockSince is when this was written. A clock before it was never set, and
// says nothing of a session's age.
var clockSince = time.Date(2026, time.January, 1, 0, 0, 0, 0, time.UTC)

// session is somebody who gave the PIN. The token itself isn't kept, so that a
// copy of the disk opens nothing.
type session struct {
	Hash string    `json:"hash"`
	PIN  string    `json:"pin"`
	Used time.Time `json:"used"`
}

type sessions struct {
	List []session `json:"sessions"`
}

func hashOf(token string) string {
	sum := sha256.Sum256([]byte(token))
	return base64.RawStdEncoding.EncodeToString(sum[:])
}

// add begins a session. The token has 256 random bits, so a plain hash of it
// is as good as a slow one.
func (s *sessions) add(p pin, now time.Time) (string, error) {
	raw := make([]byte, 32)
	if _, err := rand.Read(raw); err != nil {
		return "", fmt.Errorf("cannot draw a session: %w", err)
	}
	token := base64.RawURLEncoding.EncodeToString(raw)
	s.List = append(s.List, session{hashOf(token), p.id(), now})
	if n := len(s.List) - maxSessions; n > 0 {
		s.List = s.List[n:]
	}
	return token, nil
}

// use looks a token up and notes that it was used; keep asks for writing that
// down. The list is in the order of use.
func (s *sessions) use(p pin, token string, now time.Time) (known, keep bool) {
	for i, one := range s.List {
		if one.Hash != hashOf(token) {
			continue
		}
		if one.PIN != p.id() || tooOld(one.Used, now) {
			return false, false
		}
		if age := now.Sub(one.Used); age > noteEvery || age < 0 {
			one.Used, keep = now, true
		}
		s.List = append(append(s.List[:i:i], s.List[i+1:]...), one)
		return true, keep
	}
	return false, false
}

func tooOld(used, now time.Time) bool {
	return used.After(clockSince) && now.After(clockSince) && now.Sub(used) > SessionAge
}

// drop ends a token's session and reports whether there was one.
func (s *sessions) drop(token string) bool {
	h := hashOf(token)
	for i, one := range s.List {
		if one.Hash == h {
			s.List = append(s.List[:i:i], s.List[i+1:]...)
			return true
		}
	}
	return false
}

func (s *sessions) write(path string) error {
	text, err := json.MarshalIndent(s, "", " ")
	if err == nil {
		err = wholefile.WriteSecret(path, append(text, '\n'))
	}
	if err != nil {
		return fmt.Errorf("cannot keep the sessions: %w", err)
	}
	return nil
}

// readSessions gives none where the file is missing or damaged: everybody gives
// the PIN once more.
func readSessions(path string) (s sessions) {
	text, err := os.ReadFile(path)
	if err != nil || json.Unmarshal(text, &s) != nil || len(s.List) > maxSessions {
		return sessions{}
	}
	return s
}
