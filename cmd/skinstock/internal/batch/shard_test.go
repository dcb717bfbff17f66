package batch

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestShardFromScheduler(t *testing.T) {
	for _, c := range []struct {
		env    map[string]string
		count  int
		want   Shard
		source string
		err    string
	}{
		{want: Whole},
		{env: map[string]string{"SLURM_ARRAY_TASK_ID": "0", "SLURM_ARRAY_TASK_COUNT": "4", "SLURM_ARRAY_TASK_MIN": "0"}, want: Shard{1, 4}, source: "SLURM_ARRAY_TASK_ID"},
		{env: map[string]string{"SLURM_ARRAY_TASK_ID": "10", "SLURM_ARRAY_TASK_COUNT": "4", "SLURM_ARRAY_TASK_MIN": "7"}, want: Shard{4, 4}, source: "SLURM_ARRAY_TASK_ID"},
		{env: map[string]string{"SLURM_ARRAY_TASK_ID": "9", "SLURM_ARRAY_TASK_COUNT": "3", "SLURM_ARRAY_TASK_MIN": "5", "SLURM_ARRAY_TASK_STEP": "2"}, want: Shard{3, 3}, source: "SLURM_ARRAY_TASK_ID"},
		{env: map[string]string{"SLURM_ARRAY_TASK_ID": "9", "SLURM_ARRAY_TASK_COUNT": "3", "SLURM_ARRAY_TASK_MIN": "1"}, err: "not one of an unbroken row"},
		{env: map[string]string{"SLURM_ARRAY_TASK_ID": "x", "SLURM_ARRAY_TASK_COUNT": "3", "SLURM_ARRAY_TASK_MIN": "1"}, err: `SLURM_ARRAY_TASK_ID is "x"`},
		{env: map[string]string{"SLURM_ARRAY_TASK_ID": "1"}, err: "SLURM_ARRAY_TASK_COUNT"},
		{env: map[string]string{"JOB_COMPLETION_INDEX": "0"}, count: 3, want: Shard{1, 3}, source: "JOB_COMPLETION_INDEX"},
		{env: map[string]string{"JOB_COMPLETION_INDEX": "2"}, count: 3, want: Shard{3, 3}, source: "JOB_COMPLETION_INDEX"},
		{env: map[string]string{"JOB_COMPLETION_INDEX": "3"}, count: 3, err: "--shards 3"},
		{env: map[string]string{"JOB_COMPLETION_INDEX": "3"}, err: "not how many"},
		{count: 3, err: "not which"},
	} {
		got, source, err := ShardFrom(func(name string) string { return c.env[name] }, c.count)
		if c.err != "" {
			require.ErrorContains(t, err, c.err)
			continue
		}
		require.NoError(t, err, "%v", c.env)
		require.Equal(t, c.want, got)
		require.Equal(t, c.source, source)
	}
}

func TestParseShard(t *testing.T) {
	s, err := ParseShard("3/10")
	require.NoError(t, err)
	require.Equal(t, Shard{3, 10}, s)
	for _, bad := range []string{"", "3", "0/3", "4/3", "a/b", "1/0", "-1/3", "1/999999999"} {
		_, err := ParseShard(bad)
		require.Error(t, err, bad)
	}
}

// Every part is in one share and in its order, and no share is heavier than the
// lightest by more than the largest part: what giving each to the lightest promises.
func TestSharesAreWholeAndBalanced(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sizes := rapid.SliceOfN(rapid.Int64Range(0, 1<<30), 1, 60).Draw(t, "sizes")
		n := rapid.IntRange(1, 9).Draw(t, "shares")
		var parts []Part
		largest := int64(0)
		for i, s := range sizes {
			parts = append(parts, Part{Name: fmt.Sprint(i), Bytes: s})
			largest = max(largest, s+partBytes)
		}
		seen := map[string]bool{}
		least, most := int64(1<<62), int64(0)
		for i := 1; i <= n; i++ {
			load, last := int64(0), -1
			for _, p := range Share(parts, Shard{i, n}) {
				var k int
				_, _ = fmt.Sscan(p.Name, &k)
				if seen[p.Name] || k <= last {
					t.Fatalf("part %s twice or out of order", p.Name)
				}
				seen[p.Name], last = true, k
				load += p.Bytes + partBytes
			}
			least, most = min(least, load), max(most, load)
		}
		if len(seen) != len(parts) {
			t.Fatalf("%d of %d parts in %d shares", len(seen), len(parts), n)
		}
		if most-least > largest {
			t.Fatalf("shares from %d to %d, the largest part has %d", least, most, largest)
		}
	})
}
