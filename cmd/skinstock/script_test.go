package main

import (
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"skinstock/cmd/skinstock/internal/console"
	"skinstock/mesh/meshtest"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"skinstock": func() { os.Exit(process(os.Args[1:], console.Std())) },
	})
}

// TestScripts runs whole commands as a user would; see testdata/script.
func TestScripts(t *testing.T) {
	root := meshtest.Root(t)
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("PARTS", filepath.Join(root, "testdata", "parts"))
			return nil
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"exitcode": exitCode,
		},
	})
}

// exitCode runs a command that must end with the code named first.
func exitCode(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exitcode N command...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	if err != nil {
		ee, ok := err.(interface{ ExitCode() int })
		if !ok {
			ts.Fatalf("%v: %v", args[1:], err)
		}
		got = ee.ExitCode()
	}
	if got != want {
		ts.Fatalf("%v: exit code %d, want %d", args[1:], got, want)
	}
}
