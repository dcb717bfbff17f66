package batch

import (
	"cmp"
	"context"
	"runtime/debug"
	"slices"

	"skinstock/cmd/skinstock/internal/memory"
)

// schedule runs the tasks, the largest first, so that the small ones fill the
// end. As many run at once as cores and memory allow; a part that leaves room
// for few others in memory gets the cores they do not use. The next part starts
// while the disk takes the last one.
func (r *runner) schedule(ctx context.Context, tasks []*task) error {
	waiting := slices.Clone(tasks)
	slices.SortStableFunc(waiting, func(a, b *task) int { return compareInt(b.need.Bytes, a.need.Bytes) })
	total := int64(0)
	for _, t := range tasks {
		total += t.weight()
	}
	r.Reporter.Start(len(tasks), total)

	s := &room{cores: r.Workers, limit: r.MaxMemory, running: map[*task]running{}}
	if r.MaxMemory > 0 {
		over := make(chan *memory.OverError, 1)
		stop := memory.Watch(ctx, r.MaxMemory, func(e *memory.OverError) {
			select {
			case over <- e:
			default: // one is on its way
			}
		})
		defer stop()
		s.over = over
	}
	done, settled := make(chan *task), make(chan *task)
	settling := 0
	for len(waiting) > 0 || len(s.running) > 0 || settling > 0 {
		for ctx.Err() == nil && settling < behind*r.Workers {
			i := s.next(waiting)
			if i < 0 {
				break
			}
			t := waiting[i]
			waiting = slices.Delete(waiting, i, i+1)
			workers := s.share(t, len(waiting))
			tctx, cancel := context.WithCancelCause(ctx)
			s.running[t] = running{workers, cancel}
			go func() {
				r.do(tctx, t, workers)
				cancel(nil)
				done <- t
			}()
		}
		if len(s.running) == 0 && settling == 0 {
			break // ended by ctx
		}
		select {
		case e := <-s.over:
			s.stopLargest(e)
		case t := <-done:
			s.end(t)
			if ctx.Err() == nil && t.again && !t.alone && !t.result.finished() {
				t.again, t.alone, t.need.Bytes = false, true, max(t.need.Bytes, r.MaxMemory)
				waiting = append(waiting, t)
				continue
			}
			settling++
			go func() {
				t.lost = r.settle(ctx, t)
				settled <- t
			}()
		case t := <-settled:
			settling--
			r.lost = cmp.Or(t.lost, r.lost)
			if ctx.Err() == nil || t.result.finished() {
				r.Reporter.Finished(t.result, t.weight(), t.reused)
			}
		}
	}
	return ctx.Err()
}

// behind is for how many parts a core the disk may be behind.
const behind = 2

// weight goes with the time a part takes.
func (t *task) weight() int64 { return t.need.Facets + 1000 }

// room is what is left of cores and memory.
type room struct {
	cores   int
	limit   int64 // bytes, 0 for no limit
	running map[*task]running
	over    <-chan *memory.OverError

	stopping *task // was told to end for its memory, and holds it until it has
}

// running is a task at work.
type running struct {
	workers int
	cancel  context.CancelCauseFunc
}

func (s *room) used() (cores int, bytes int64) {
	for t, r := range s.running {
		cores += r.workers
		bytes += t.need.Bytes
	}
	return cores, bytes
}

// next returns the first task that there is room for, or -1. A part larger than
// all memory comes to its turn when nothing else runs, and is refused there.
func (s *room) next(waiting []*task) int {
	cores, bytes := s.used()
	if cores >= s.cores {
		return -1
	}
	for i, t := range waiting {
		if len(s.running) == 0 || s.limit == 0 || bytes+t.need.Bytes <= s.limit || t.need.Bytes > s.limit && !t.alone {
			return i
		}
	}
	return -1
}

// share returns with how many workers a task is done: one where there are parts
// enough to keep the cores busy, more where memory or the end of the list leaves cores idle.
func (s *room) share(t *task, left int) int {
	cores, bytes := s.used()
	free := s.cores - cores
	starts := left + 1 // parts that could start now, this one among them
	if s.limit > 0 && t.need.Bytes > 0 {
		starts = min(starts, int((s.limit-bytes)/t.need.Bytes))
	}
	return max(1, free/max(1, starts))
}

func (s *room) end(t *task) {
	delete(s.running, t)
	if t != s.stopping {
		return
	}
	s.stopping = nil
	debug.FreeOSMemory()
	select {
	case <-s.over: // told of what has ended by now
	default:
	}
}

// stopLargest ends the part that is expected to take the most. It is tried once
// more by itself when others ran beside it.
func (s *room) stopLargest(e *memory.OverError) {
	if s.stopping != nil {
		return
	}
	var largest *task
	for t := range s.running { // the largest, the first in the list among equals: the order of the map does not matter
		if largest == nil || t.need.Bytes > largest.need.Bytes || t.need.Bytes == largest.need.Bytes && t.n < largest.n {
			largest = t
		}
	}
	if largest == nil {
		return
	}
	s.stopping, largest.again = largest, len(s.running) > 1
	s.running[largest].cancel(e)
}
