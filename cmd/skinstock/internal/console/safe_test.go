package console_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/cmd/skinstock/internal/console"
)

func TestSafe(t *testing.T) {
	for in, want := range map[string]string{
		"bracket µ.stl":    "bracket µ.stl",
		"a\x1b[2Jb":        `a\x1b[2Jb`,
		"x\xffy":           `x\xffy`,
		"two\nlines":       "two\nlines",
		"left\u202eright":  "left\ufffdright",
		"carriage\rreturn": `carriage\x0dreturn`,
	} {
		require.Equal(t, want, console.Safe(in))
	}
}
