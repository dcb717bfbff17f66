package part

import (
	"crypto/sha256"
	"hash"
	"io"
)

// ahead reads a file and digests it while what was read before is worked on.
type ahead struct {
	full, free chan []byte
	quit       chan struct{}
	block      []byte // being handed out, and
	rest       []byte // what is left of it
	err        error  // of the file, once full is closed
	h          hash.Hash
}

// aheadBlocks blocks of aheadSize bytes are on their way at most.
const (
	aheadBlocks = 3
	aheadSize   = 256 << 10
)

// readAhead begins to read r; stop ends it.
func readAhead(r io.Reader) *ahead {
	a := &ahead{full: make(chan []byte, aheadBlocks), free: make(chan []byte, aheadBlocks), quit: make(chan struct{}), h: sha256.New()}
	for range aheadBlocks {
		a.free <- make([]byte, aheadSize)
	}
	go a.run(r)
	return a
}

// run reads to the end of the file, or until stop.
func (a *ahead) run(r io.Reader) {
	defer close(a.full)
	for a.err == nil {
		var b []byte
		select {
		case b = <-a.free:
		case <-a.quit:
			return
		}
		n, err := r.Read(b[:aheadSize])
		a.err = err
		a.h.Write(b[:n])
		select {
		case a.full <- b[:n]:
		case <-a.quit:
			return
		}
	}
}

// stop lets the reading end; one that waits for bytes that never come is left to itself.
func (a *ahead) stop() { close(a.quit) }

// Read hands out what was read.
func (a *ahead) Read(p []byte) (int, error) {
	if len(a.rest) == 0 {
		if a.block != nil {
			a.free <- a.block
			a.block = nil
		}
		b, ok := <-a.full
		if !ok {
			return 0, a.err
		}
		a.block, a.rest = b, b
	}
	n := copy(p, a.rest)
	a.rest = a.rest[n:]
	return n, nil
}

// sum returns the digest of the whole file; it is there once Read has returned an error.
func (a *ahead) sum() []byte { return a.h.Sum(nil) }
