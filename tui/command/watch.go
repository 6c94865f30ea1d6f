package command

import (
	"context"
	"os"
	"os/signal"
	"runtime"
	"syscall"

	"github.com/muesli/termenv"

	"example.org/halve/tui/classroom"
	"example.org/halve/tui/theme"
)

// watch follows the records of a folder on the screens.
func (c Class) watch(ctx context.Context, d Desk, dir string) error {
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGHUP)
	defer stop()
	ascii := c.ASCII || !theme.UTF8Locale(os.Environ(), runtime.GOOS == "windows" || runtime.GOOS == "darwin")
	look := theme.New(c.Theme, termenv.NewOutput(d.Out).EnvColorProfile(), ascii)
	if !ascii && theme.OlderConsole(runtime.GOOS, os.Environ()) {
		look.Signs = theme.Older()
	}
	return classroom.Run(ctx, classroom.Options{Dir: dir, Anonymous: c.Anonymous, Now: d.Now, Theme: look, In: d.In, Out: d.Out})
}
