package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// An array of four tasks over forty parts on a real Slurm: one task is killed
// on the way and queued again; in the end the folder is byte for byte that of
// one run on one machine. The script .ci/slurm starts the cluster.
func TestSlurmArray(t *testing.T) {
	if os.Getenv("SLURM_CONF") == "" {
		t.Skip("no cluster: run by '.ci/slurm go test'")
	}
	jobs := balls(t, 40)
	want := reference(t, jobs)

	dir := t.TempDir()
	exe, err := os.Executable()
	require.NoError(t, err)
	require.NoError(t, os.Mkdir(filepath.Join(dir, "bin"), 0o777))
	require.NoError(t, os.Symlink(exe, filepath.Join(dir, "bin", "skinstock")))
	code, script, stderr := runHere(t, "batch", "template", "slurm")
	require.Equal(t, exitDone, code, stderr)
	sbatch := filepath.Join(dir, "batch.sbatch")
	require.NoError(t, os.WriteFile(sbatch, []byte(script), 0o777))
	out := filepath.Join(dir, "grown")

	// The array does not begin at 0, so that the first number is minded.
	id := slurm(t, dir, "sbatch", "--parsable", "--array=3-6", "--cpus-per-task=1", "--mem=200", "--output", filepath.Join(dir, "log-%a"), sbatch, jobs, out)
	logs := func() string {
		text := ""
		for a := 3; a <= 6; a++ {
			b, _ := os.ReadFile(filepath.Join(dir, fmt.Sprintf("log-%d", a)))
			text += fmt.Sprintf("task %d:\n%s", a, b)
		}
		return text
	}
	t.Cleanup(func() {
		if t.Failed() {
			t.Log(logs())
		}
	})

	// The second task dies in the middle of its third part or later, and is queued again.
	victim := id + "_4"
	require.Eventually(t, func() bool {
		b, _ := os.ReadFile(filepath.Join(out, ".skinstock", "results-2-of-4.jsonl"))
		return strings.Count(string(b), "\n") >= 2
	}, time.Minute, 5*time.Millisecond, "the task does not begin")
	pid := 0
	require.Eventually(t, func() bool { pid = taskProcess(t, "4", out); return pid > 0 }, 5*time.Second, 5*time.Millisecond, "the task has no process")
	require.NoError(t, syscall.Kill(pid, syscall.SIGKILL))
	done := strings.Count(string(read(t, filepath.Join(out, ".skinstock", "results-2-of-4.jsonl"))), "\n")
	require.Less(t, done, 10, "the task had ended before it was killed")
	require.Eventually(t, func() bool { return states(t, dir, victim) == "FAILED" }, time.Minute, 50*time.Millisecond)
	require.Eventually(t, func() bool {
		switch states(t, dir, victim) {
		case "FAILED":
			slurm(t, dir, "scontrol", "requeue", victim)
		case "PENDING": // not after the two minutes that are usual
			slurm(t, dir, "scontrol", "update", "jobid="+victim, "starttime=now")
		}
		return states(t, dir, id) == "COMPLETED COMPLETED COMPLETED COMPLETED"
	}, 4*time.Minute, 200*time.Millisecond, "the array does not end")
	t.Logf("the task had done %d of its parts when it was killed\n%s", done, logs())
	require.Contains(t, logs(), "of them were finished before")

	code, _, stderr = runHere(t, "batch", jobs, "--out", out, "--collect")
	require.Equal(t, exitDone, code, stderr)
	sameTree(t, want, tree(t, out))
}

// slurm runs a command of the cluster, whose tasks find the program in dir/bin.
func slurm(t *testing.T, dir string, args ...string) string {
	t.Helper()
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Env = append(os.Environ(), "PATH="+filepath.Join(dir, "bin")+":"+os.Getenv("PATH"))
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%v: %s", args, out)
	return strings.TrimSpace(string(out))
}

// taskProcess returns the process of a task of the array that writes to out; 0 for none.
func taskProcess(t *testing.T, task, out string) int {
	t.Helper()
	processes, err := filepath.Glob("/proc/[0-9]*")
	require.NoError(t, err)
	for _, p := range processes {
		args, _ := os.ReadFile(filepath.Join(p, "cmdline"))
		env, _ := os.ReadFile(filepath.Join(p, "environ"))
		if strings.HasPrefix(string(args), "skinstock\x00batch\x00") && strings.Contains(string(args), "\x00"+out+"\x00") &&
			strings.Contains("\x00"+string(env), "\x00SLURM_ARRAY_TASK_ID="+task+"\x00") {
			pid, _ := strconv.Atoi(filepath.Base(p))
			return pid
		}
	}
	return 0
}

// states returns the states of the tasks of a job.
func states(t *testing.T, dir, id string) string {
	t.Helper()
	return strings.Join(strings.Fields(slurm(t, dir, "squeue", "--noheader", "--array", "--states=all", "--format=%T", "--jobs="+id)), " ")
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return b
}
