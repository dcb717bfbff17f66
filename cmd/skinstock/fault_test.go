package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// mountTmpfs mounts a small file system in memory, or skips where that is not allowed.
func mountTmpfs(t *testing.T, options string) (dir string) {
	t.Helper()
	dir = t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", options, "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("no file system can be mounted here: %v %s", err, out)
	}
	t.Cleanup(func() { _ = exec.Command("umount", "-l", dir).Run() })
	return dir
}

func remount(t *testing.T, dir, options string) {
	t.Helper()
	out, err := exec.Command("mount", "-o", "remount,"+options, dir).CombinedOutput()
	require.NoError(t, err, "%s", out)
}

func TestFullDisk(t *testing.T) {
	jobs := balls(t, 6)
	want := reference(t, jobs)
	out := mountTmpfs(t, "size=300k") // three or four parts fit
	code, stderr := finish(t, program(t, "batch", jobs, "--out", out))
	require.Equal(t, exitOutput, code, stderr)
	require.Contains(t, stderr, "no space left on device")
	wholeParts(t, want, out)
	require.Empty(t, unfinished(t, out))

	// With room again the run goes on and leaves what it would have left at once.
	remount(t, out, "size=64m")
	code, stderr = finish(t, program(t, "batch", jobs, "--out", out, "--resume"))
	require.Equal(t, exitDone, code, stderr)
	sameTree(t, want, tree(t, out))
}

func TestFullDiskLeavesNoHalfPart(t *testing.T) {
	part := filepath.Join(filepath.Dir(balls(t, 1)), "ball-00.stl")
	out := mountTmpfs(t, "size=40k") // the grown part has 64 kB
	code, stderr := finish(t, program(t, "compensate", part, "-o", filepath.Join(out, "grown.stl")))
	require.Equal(t, exitOutput, code, stderr)
	require.Contains(t, stderr, "grown.stl: no space left on device")
	require.Empty(t, tree(t, out))
}

func TestReadOnlyFolder(t *testing.T) {
	jobs := balls(t, 2)
	out := mountTmpfs(t, "size=1m")
	remount(t, out, "ro")
	code, stderr := finish(t, program(t, "batch", jobs, "--out", out))
	require.Equal(t, exitOutput, code, stderr)
	require.Contains(t, stderr, "cannot write here: read-only file system")
	code, stderr = finish(t, program(t, "compensate", filepath.Join(filepath.Dir(jobs), "ball-00.stl"), "-o", filepath.Join(out, "grown.stl")))
	require.Equal(t, exitOutput, code, stderr)
	require.Contains(t, stderr, "read-only file system")

	// Results that cannot be replaced any more stay as they are.
	remount(t, out, "rw")
	code, stderr = finish(t, program(t, "batch", jobs, "--out", out))
	require.Equal(t, exitDone, code, stderr)
	before := tree(t, out)
	remount(t, out, "ro")
	code, stderr = finish(t, program(t, "batch", jobs, "--out", out, "--force"))
	require.Equal(t, exitOutput, code, stderr)
	sameTree(t, before, tree(t, out))
}

// A run is killed at eight random moments, four of them one after the other in
// each of two folders, and goes on each time; with -late in five folders. Whatever is there in between
// is whole, and in the end the folder is as if nothing had happened.
func TestKilledRunsGoOn(t *testing.T) {
	jobs := balls(t, 8)
	want := reference(t, jobs)
	began := time.Now()
	code, stderr := finish(t, program(t, "batch", jobs, "--out", filepath.Join(t.TempDir(), "out")))
	require.Equal(t, exitDone, code, stderr)
	whole := time.Since(began)
	const seed = 20
	r := rand.New(rand.NewPCG(seed, 0))
	killed, folders := 0, 2
	if *late {
		folders = 5
	}
	for range folders {
		out := filepath.Join(t.TempDir(), "out")
		for range 4 {
			cmd := program(t, "batch", jobs, "--out", out, "--resume")
			require.NoError(t, cmd.Start())
			time.Sleep(time.Duration(r.Float64() * float64(whole) / 2))
			require.NoError(t, cmd.Process.Kill())
			if err := cmd.Wait(); err != nil {
				killed++
			}
			if _, err := os.Stat(out); err == nil {
				wholeParts(t, want, out)
			}
		}
		code, stderr := finish(t, program(t, "batch", jobs, "--out", out, "--resume"))
		require.Equal(t, exitDone, code, stderr)
		sameTree(t, want, tree(t, out))
		require.Empty(t, unfinished(t, out))
	}
	t.Logf("%d of %d runs were killed before their end", killed, 4*folders)
	require.Greater(t, killed, 2*folders, "the runs end before they can be killed")
}

func TestTwoRunsOnOneFolder(t *testing.T) {
	jobs := balls(t, 8)
	want := reference(t, jobs)
	out := filepath.Join(t.TempDir(), "out")
	first := program(t, "batch", jobs, "--out", out, "--workers", "1")
	require.NoError(t, first.Start())
	require.Eventually(t, func() bool {
		_, err := os.Stat(filepath.Join(out, ".skinstock", "claims"))
		return err == nil
	}, 30*time.Second, time.Millisecond, "the first run does not begin")
	for _, more := range [][]string{{"--resume"}, {"--force"}, {}, {"--shard", "1/2"}, {"--collect"}} {
		code, stderr := finish(t, program(t, append([]string{"batch", jobs, "--out", out}, more...)...))
		require.Equal(t, exitOutput, code, "%v %s", more, stderr)
		require.Contains(t, stderr, "another run is working in this folder: wait for it")
	}
	require.NoError(t, first.Wait())
	sameTree(t, want, tree(t, out))

	// Shares of different counts would do some parts twice.
	shares := filepath.Join(t.TempDir(), "out")
	first = program(t, "batch", jobs, "--out", shares, "--workers", "1", "--shard", "1/2")
	require.NoError(t, first.Start())
	require.Eventually(t, func() bool {
		_, err := os.Stat(filepath.Join(shares, ".skinstock", "claims-1-of-2"))
		return err == nil
	}, 30*time.Second, time.Millisecond)
	for _, shard := range []string{"1/2", "3/3", "1/1"} {
		code, stderr := finish(t, program(t, "batch", jobs, "--out", shares, "--shard", shard))
		require.Equal(t, exitOutput, code, "%s %s", shard, stderr)
		require.Contains(t, stderr, "another run is working in this folder")
	}
	code, stderr := finish(t, program(t, "batch", jobs, "--out", shares, "--shard", "2/2"))
	require.Equal(t, exitDone, code, stderr)
	require.NoError(t, first.Wait())
}

// processorTime returns what a process that was not waited for yet has used of
// the processors; ended tells that it runs no more.
func processorTime(t *testing.T, pid int) (used time.Duration, ended bool) {
	t.Helper()
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	require.NoError(t, err)
	// proc(5): behind the name in brackets come the state and, 11 fields on,
	// user and system time in hundredths of a second.
	fields := strings.Fields(string(b[bytes.LastIndexByte(b, ')')+1:]))
	for _, f := range fields[11:13] {
		n, err := strconv.Atoi(f)
		require.NoError(t, err)
		used += time.Duration(n) * 10 * time.Millisecond
	}
	return used, fields[0] == "Z"
}

// An interrupt ends a run within a second, wherever it is, and leaves nothing
// half written. How long that takes on a clock depends on what else the machine
// does; so the signal is sent after a share of the run's own processor time, and
// what the run uses after it is bounded by all cores for a second. Only a run that does nothing and
// stays is told by the clock.
func TestInterruptsEndARun(t *testing.T) {
	jobs := balls(t, 40)
	bracket := filepath.Join("..", "..", "testdata", "parts", "lander-bracket.stl")
	most := time.Duration(runtime.GOMAXPROCS(0)) * time.Second
	const seed = 6
	r := rand.New(rand.NewPCG(seed, 0))
	interrupted := 0
	for i, sig := range []os.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGINT, syscall.SIGTERM, syscall.SIGINT, syscall.SIGTERM} {
		out := filepath.Join(t.TempDir(), "out")
		require.NoError(t, os.Mkdir(out, 0o777))
		args := []string{"batch", jobs, "--out", out}
		if i%2 == 0 {
			args = []string{"compensate", bracket, "-o", filepath.Join(out, "grown.stl"), "--report", filepath.Join(out, "report")}
		}
		cmd := program(t, args...)
		require.NoError(t, cmd.Start())
		until := 100*time.Millisecond + time.Duration(r.Int64N(int64(time.Second)))
		before, ended := processorTime(t, cmd.Process.Pid)
		for !ended && before < until {
			time.Sleep(2 * time.Millisecond)
			before, ended = processorTime(t, cmd.Process.Pid)
		}
		require.NoError(t, cmd.Process.Signal(sig)) // one that has ended is not waited for yet
		stays := time.AfterFunc(time.Minute, func() { _ = cmd.Process.Kill() })
		_ = cmd.Wait()
		stays.Stop()
		after := cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime() - before
		require.Empty(t, unfinished(t, out))
		if cmd.ProcessState.ExitCode() == exitDone {
			t.Logf("%s was at its end already", args[0])
			continue
		}
		interrupted++
		t.Logf("%s used %v of the processors after %v of them and %v", args[0], after.Round(time.Millisecond), before, sig)
		require.Equal(t, exitInterrupted, cmd.ProcessState.ExitCode(), "%v", cmd.ProcessState)
		require.Less(t, after, most)
	}
	require.GreaterOrEqual(t, interrupted, 4, "of six runs that take seconds of the processors")
}
