package tree

import (
	"cmp"
	"fmt"
	"runtime/debug"
	"strings"
)

// Version says in one line which program this is: version, commit, Go and
// system. release is what a release was built with, "VERSION COMMIT", and ""
// for any other build, of which info tells as much as the tool that built it
// knew.
func Version(release string, info *debug.BuildInfo) string {
	setting := map[string]string{}
	for _, s := range info.Settings {
		setting[s.Key] = s.Value
	}
	version, commit, _ := strings.Cut(release, " ")
	if release == "" {
		commit = setting["vcs.revision"]
		// The version of a commit that has none is its name again.
		if version = "(built from source)"; commit == "" && info.Main.Version != "" && info.Main.Version != "(devel)" {
			version = info.Main.Version
		}
	}
	switch {
	case commit == "":
		commit = "commit unknown"
	case setting["vcs.modified"] == "true":
		commit = "commit " + short(commit) + " with changes"
	default:
		commit = "commit " + short(commit)
	}
	return fmt.Sprintf("%s, %s, %s %s/%s", version, commit, cmp.Or(info.GoVersion, "Go unknown"),
		cmp.Or(setting["GOOS"], "unknown"), cmp.Or(setting["GOARCH"], "unknown"))
}

// short is as much of a commit's name as tells it from all others here.
func short(commit string) string { return commit[:min(len(commit), 12)] }
