package wholefile

import (
	"context"
	"sync"
)

// Keeper knows the temporary files of a run that are not in place yet, so that
// a run that must end at once can remove them.
type Keeper struct {
	mu     sync.Mutex
	remove map[string]func(string) error
	ended  bool
}

type keeperKey struct{}

// With returns a context whose writes tell k of their temporary files.
func With(ctx context.Context, k *Keeper) context.Context {
	return context.WithValue(ctx, keeperKey{}, k)
}

// Abandon removes the temporary files that are there. Writes under way fail
// from then on; those that are in place stay.
func (k *Keeper) Abandon() {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.ended = true
	for name, remove := range k.remove {
		_ = remove(name)
	}
}

// keep notes a temporary file and returns what removes it in the end, which
// does no harm once the file has its final name.
func keep(ctx context.Context, name string, remove func(string) error) (done func()) {
	k, _ := ctx.Value(keeperKey{}).(*Keeper)
	if k == nil {
		return func() { _ = remove(name) }
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.remove == nil {
		k.remove = map[string]func(string) error{}
	}
	k.remove[name] = remove
	if k.ended { // made after the others were removed
		_ = remove(name)
	}
	return func() {
		k.mu.Lock()
		defer k.mu.Unlock()
		_ = remove(name)
		delete(k.remove, name)
	}
}
