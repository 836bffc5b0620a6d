package main

import (
	"fmt"
	"reflect"
	"time"

	"github.com/alecthomas/kong"
)

// durations reads times as people type them; a bare number has no unit and is
// asked back.
func durations() kong.Option {
	return kong.TypeMapper(reflect.TypeFor[time.Duration](), kong.MapperFunc(func(ctx *kong.DecodeContext, target reflect.Value) error {
		var text string
		if err := ctx.Scan.PopValueInto("duration", &text); err != nil {
			return err
		}
		d, err := time.ParseDuration(text)
		if err != nil {
			return fmt.Errorf("%q is not a time: write seconds as 30s, minutes as 5m", text)
		}
		target.SetInt(int64(d))
		return nil
	}))
}
