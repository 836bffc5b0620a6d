// Package folder writes what a practice engine gave as files: sound and
// analogue traces as 16-bit WAV, the rest as CSV, a list of the files with
// units and scales, and, apart from them, the truth.
//
//	recordings.json      what each file is: sensor, unit, rate, full scale
//	sound.wav            microphone
//	crank_edges.csv      seconds of each edge, cam_edges.csv likewise
//	crank_trace.wav      crank sensor as an analogue signal
//	phone.csv            seconds and acceleration on three axes
//	coil_current.wav     clamp on the coil feeds; coil_voltage.wav one primary
//	starter.csv          battery lead: seconds, amperes, volts
//	pressure.wav         one cylinder
//	engine_data.csv      seconds, name, value
//	codes.json           codes with freeze frame, misfire counters, readiness, lamp
//	exhaust_gas.csv      seconds and volume fractions
//
// Every number is rounded to what the file can hold, so that tiny differences
// of floating-point arithmetic between machines do not reach the files.
package folder
