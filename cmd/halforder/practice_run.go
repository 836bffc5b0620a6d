package main

import (
	"fmt"
	"os"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/practice"
	"halforder/practice/folder"
)

type practiceRunCmd struct {
	Dir string `arg:"" type:"path" help:"New folder for the recordings."`

	Engine  string   `default:"i4" help:"Engine layout: a name or a firing order."`
	Seed    uint64   `default:"1" help:"The same seed gives the same files."`
	Fault   []string `sep:"none" placeholder:"FAULT" help:"What is wrong, repeatable: see practice faults."`
	Seconds float64  `default:"30" help:"How long to watch a settled idle; a script has its own end."`
	Script  string   `type:"existingfile" placeholder:"FILE" help:"What is done meanwhile, and when."`
	Truth   string   `type:"path" placeholder:"FILE" help:"Where the truth goes; DIR.truth.json when left out."`

	Idle     float64 `default:"750" help:"Warm idle speed, rpm."`
	Coolant  float64 `default:"88" help:"Coolant temperature at the beginning, °C."`
	Off      bool    `help:"Begin with the engine off (with a script that starts it)."`
	Air      float64 `default:"20" help:"Air temperature, °C."`
	Altitude float64 `default:"0" help:"Metres above sea level."`
	Wet      bool    `help:"Damp wells and leads."`
	Ignition string  `default:"coil-on-plug" enum:"coil-on-plug,wasted-spark" help:"coil-on-plug or wasted-spark."`
	Cut      bool    `help:"The computer switches off the injector of a missing cylinder."`

	Only     []string `placeholder:"SENSOR" help:"Record only these: sound, crank, cam, crank-trace, phone, coil, starter, data, gas."`
	Pressure int      `placeholder:"CYLINDER" help:"Also a pressure transducer in place of this cylinder's plug."`
	SoundHz  float64  `default:"44100" help:"Sampling rate of the sound."`
	PhoneHz  float64  `default:"100" help:"Rate of the phone's acceleration: 60 in a browser."`
	Place    string   `default:"engine" enum:"engine,tailpipe" help:"Where the microphone is: engine or tailpipe."`
	Gain     bool     `help:"The phone's automatic gain control is on."`
	Fan      bool     `help:"A fan runs nearby."`

	JSON bool `help:"Print the list of files as JSON."`
}

func (c *practiceRunCmd) Help() string {
	return `The engine, its fault and its sensors are simulated; nothing here comes from a
real car. The folder says nothing of the fault; the truth file says all.

A script has one action a line, seconds first:

  0    start
  20   unplug coil 3
  25   reconnect coil 3
  60   end

Actions: key on, key off, start, crank 5, stop, unplug coil 3, reconnect coil 3
(or injector), swap coil 1 3, renew coil 3 (or plug, boot, injector; or all),
mend runner-leak 2, hold 2500, release, pedal 40, brake 60, gear 3, cruise 80,
slope 6, load 400, spray on, spray off, clear codes.

Examples:
  halforder practice run rec1 --engine i6 --fault coil-open@3
  halforder practice run rec2 --fault injector-clogged@2:0.5,random=0.3 --seconds 60 --only sound,crank
  halforder practice run rec3 --off --coolant 5 --script morning.txt --fault head-gasket@1`
}

func (c *practiceRunCmd) Run(r *run) error {
	cfg, script, want, err := c.read()
	if err != nil {
		return badInput(err)
	}
	truthFile := c.Truth
	if truthFile == "" {
		truthFile = strings.TrimRight(c.Dir, `/\`) + ".truth.json"
	}
	if _, err := os.Stat(truthFile); err == nil {
		return badInput(fmt.Errorf("truth file %s exists: name another with --truth", truthFile))
	}
	if err := folder.Free(c.Dir); err != nil {
		return badInput(err)
	}
	rec, truth, err := practice.Run(cfg, script, want)
	if err != nil {
		return badInput(err)
	}
	list, err := folder.Write(c.Dir, cfg, rec)
	if err != nil {
		return err
	}
	if err := folder.WriteTruth(truthFile, cfg, script, truth); err != nil {
		return err
	}
	return c.report(r, list, truthFile)
}

func (c *practiceRunCmd) read() (cfg practice.Config, script practice.Script, want practice.Sensors, err error) {
	layout, err := engine.Parse(c.Engine)
	if err != nil {
		return cfg, script, want, err
	}
	cfg = practice.Defaults(layout)
	cfg.Seed, cfg.IdleRPM, cfg.CoolantC, cfg.Running = c.Seed, engine.RPM(c.Idle), c.Coolant, !c.Off
	cfg.Air = practice.Air{AltitudeM: c.Altitude, TempC: c.Air, Wet: c.Wet}
	cfg.Ignition, cfg.Computer.InjectorCut = practice.Ignition(c.Ignition), c.Cut
	for _, text := range c.Fault {
		f, err := practice.ParseFault(text)
		if err != nil {
			return cfg, script, want, err
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	if script, err = c.readScript(); err != nil {
		return cfg, script, want, err
	}
	want, err = c.sensors()
	return cfg, script, want, err
}

func (c *practiceRunCmd) readScript() (practice.Script, error) {
	if c.Script == "" {
		return practice.Watch(c.Seconds), nil
	}
	text, err := os.ReadFile(c.Script)
	if err != nil {
		return practice.Script{}, err
	}
	return practice.ParseScript(string(text))
}

func (c *practiceRunCmd) sensors() (practice.Sensors, error) {
	all := practice.Everything()
	all.Sound = &practice.SoundSensor{Hz: c.SoundHz, Place: practice.Place(c.Place), Gain: c.Gain, Fan: c.Fan}
	all.Phone.Hz = c.PhoneHz
	all.Pressure = nil
	if c.Pressure != 0 {
		all.Pressure = &practice.Indicator{Cylinder: engine.Cylinder(c.Pressure), Hz: 20e3}
	}
	if len(c.Only) == 0 {
		return all, nil
	}
	known := map[string]func(*practice.Sensors){
		"sound": func(s *practice.Sensors) { s.Sound = all.Sound }, "crank": func(s *practice.Sensors) { s.Crank = true },
		"cam": func(s *practice.Sensors) { s.Cam = true }, "crank-trace": func(s *practice.Sensors) { s.CrankTrace = all.CrankTrace },
		"phone": func(s *practice.Sensors) { s.Phone = all.Phone }, "coil": func(s *practice.Sensors) { s.Coil = all.Coil },
		"starter": func(s *practice.Sensors) { s.Starter = all.Starter }, "data": func(s *practice.Sensors) { s.Bus = all.Bus },
		"gas": func(s *practice.Sensors) { s.Gas = all.Gas },
	}
	some := practice.Sensors{Pressure: all.Pressure}
	for _, name := range c.Only {
		add := known[name]
		if add == nil {
			return some, fmt.Errorf("sensor %q is unknown, expected sound, crank, cam, crank-trace, phone, coil, starter, data or gas", name)
		}
		add(&some)
	}
	return some, nil
}

func (c *practiceRunCmd) report(r *run, list folder.List, truthFile string) error {
	if c.JSON {
		return r.printJSON(struct {
			folder.List
			Truth string `json:"truth"`
		}{list, truthFile})
	}
	files := slices.Clone(list.Files)
	for _, f := range files {
		fmt.Fprintf(r.Stdout, "%-18s %s\n", f.File, f.Sensor)
	}
	fmt.Fprintf(r.Stdout, "%.1f s of a simulated engine in %s; the truth is in %s\n", list.Seconds, shown(c.Dir), shown(truthFile))
	return nil
}
