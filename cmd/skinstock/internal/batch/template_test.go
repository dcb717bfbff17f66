package batch

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/stretchr/testify/require"
)

func TestKubernetesTemplate(t *testing.T) {
	text, err := Template("kubernetes")
	require.NoError(t, err)
	var job struct {
		APIVersion string `yaml:"apiVersion"`
		Kind       string
		Spec       struct {
			CompletionMode string `yaml:"completionMode"`
			Completions    int
			Template       struct {
				Spec struct {
					RestartPolicy string `yaml:"restartPolicy"`
					Containers    []struct{ Args []string }
				}
			}
		}
	}
	require.NoError(t, yaml.Unmarshal(text, &job))
	require.Equal(t, "batch/v1 Job Indexed", job.APIVersion+" "+job.Kind+" "+job.Spec.CompletionMode)
	require.Equal(t, "Never", job.Spec.Template.Spec.RestartPolicy)
	args := strings.Join(job.Spec.Template.Spec.Containers[0].Args, " ")
	require.Contains(t, args, "--resume --shards 4")
	require.Equal(t, 4, job.Spec.Completions, "as many shares as completions")
}

func TestSlurmTemplate(t *testing.T) {
	text, err := Template("slurm")
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(string(text), "#!/bin/sh\n"))
	if sh, err := exec.LookPath("sh"); err == nil {
		cmd := exec.Command(sh, "-n")
		cmd.Stdin = strings.NewReader(string(text))
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, "%s", out)
	}
	_, err = Template("cron")
	require.ErrorContains(t, err, "slurm and kubernetes")
}
