package batch

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Shard is the share of the parts that one process does: number Index, from 1, of Count.
type Shard struct{ Index, Count int }

// Whole is the share of a process that does all parts.
var Whole = Shard{1, 1}

// maxShards is far above what a scheduler starts for one job.
const maxShards = 100000

// ParseShard reads i/n.
func ParseShard(s string) (Shard, error) {
	a, b, ok := strings.Cut(s, "/")
	i, errI := strconv.Atoi(a)
	n, errN := strconv.Atoi(b)
	if !ok || errI != nil || errN != nil || n < 1 || n > maxShards || i < 1 || i > n {
		return Shard{}, fmt.Errorf("%q: give i/n, such as 3/10 for the third of ten shares", s)
	}
	return Shard{i, n}, nil
}

// ShardFrom reads the share from the variables that schedulers set for the
// tasks of an array: those of Slurm, or the completion index of an indexed
// Kubernetes job together with the count, which that does not tell. It returns
// Whole outside of an array, and where the share was found.
func ShardFrom(get func(string) string, count int) (s Shard, source string, err error) {
	num := func(name string) (int, error) {
		n, err := strconv.Atoi(get(name))
		if err != nil {
			return 0, fmt.Errorf("the scheduler's %s is %q, not a number: give --shard i/n", name, get(name))
		}
		return n, nil
	}
	switch {
	case get("SLURM_ARRAY_TASK_ID") != "":
		return slurm(num, get)
	case get("JOB_COMPLETION_INDEX") != "":
		const source = "JOB_COMPLETION_INDEX"
		i, err := num(source)
		if err != nil {
			return s, source, err
		}
		if count == 0 {
			return s, source, errors.New("JOB_COMPLETION_INDEX is set, but not how many there are: give --shards n, or --shard 1/1 for all parts")
		}
		if i < 0 || i >= count {
			return s, source, fmt.Errorf("JOB_COMPLETION_INDEX is %d, --shards %d: the count must be that of the job's completions", i, count)
		}
		return Shard{i + 1, count}, source, nil
	case count > 1:
		return s, "", errors.New("--shards tells how many, not which: give --shard i/n")
	}
	return Whole, "", nil
}

func slurm(num func(string) (int, error), get func(string) string) (s Shard, source string, err error) {
	source = "SLURM_ARRAY_TASK_ID"
	var v [4]int
	for k, name := range []string{source, "SLURM_ARRAY_TASK_COUNT", "SLURM_ARRAY_TASK_MIN", "SLURM_ARRAY_TASK_STEP"} {
		if name == "SLURM_ARRAY_TASK_STEP" && get(name) == "" {
			v[k] = 1
			continue
		}
		if v[k], err = num(name); err != nil {
			return s, source, err
		}
	}
	id, count, first, step := v[0], v[1], v[2], v[3]
	if step < 1 || (id-first)%step != 0 || id < first || (id-first)/step >= count {
		return s, source, fmt.Errorf("task %d of an array of %d from %d is not one of an unbroken row: give --shard i/n", id, count, first)
	}
	return Shard{(id-first)/step + 1, count}, source, nil
}

// String returns i/n.
func (s Shard) String() string { return fmt.Sprintf("%d/%d", s.Index, s.Count) }

// whole tells whether the share is everything.
func (s Shard) whole() bool { return s.Count <= 1 }

// suffix is the share as part of a file name; empty for everything.
func (s Shard) suffix() string {
	if s.whole() {
		return ""
	}
	return fmt.Sprintf("-%d-of-%d", s.Index, s.Count)
}

// Share returns the parts of a share in the order of the list. Parts go one by
// one, the largest first, to the share with the least so far, so that all
// shares are about equal, and every process that sees the same files comes to
// the same answer without asking another.
func Share(parts []Part, s Shard) []Part {
	if s.whole() {
		return parts
	}
	order := make([]int, len(parts))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return compareInt(parts[b].Bytes, parts[a].Bytes) })
	load := make([]int64, s.Count)
	mine := make([]bool, len(parts))
	for _, i := range order {
		least := 0
		for k := range load {
			if load[k] < load[least] {
				least = k
			}
		}
		load[least] += parts[i].Bytes + partBytes
		mine[i] = least == s.Index-1
	}
	var out []Part
	for i, p := range parts {
		if mine[i] {
			out = append(out, p)
		}
	}
	return out
}

// partBytes is what starting on a part weighs beside its file: it also spreads
// files of no size.
const partBytes = 4096

func compareInt(a, b int64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
