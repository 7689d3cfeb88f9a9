package dashboard

import (
	"crypto/sha256"
	"encoding/hex"

	"headroom/daemon/checklist"
)

// listKey names a list by its text, so that ticks meant for one list are never
// taken for another.
func listKey(l checklist.List) string {
	sum := sha256.Sum256([]byte(l.String()))
	return hex.EncodeToString(sum[:8])
}
