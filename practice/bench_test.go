package practice

import (
	"testing"
)

// A minute of an idling six: all sensors at least 20 times faster than real
// time, without sound and analogue traces at least 300 times.

func BenchmarkMinuteOfSixAllSensors(b *testing.B) { benchMinute(b, Everything()) }

func BenchmarkMinuteOfSixPlain(b *testing.B) {
	benchMinute(b, Sensors{Crank: true, Cam: true, Bus: &BusSensor{PerSecond: 12}, Gas: &GasSensor{}})
}

func BenchmarkMinuteOfSixTruthOnly(b *testing.B) { benchMinute(b, Sensors{}) }

func benchMinute(b *testing.B, want Sensors) {
	const seconds = 60
	b.ReportAllocs()
	for range b.N {
		if _, _, err := Run(testConfig(b, "i6", "coil-weak@3:0.8,random=0.3"), Watch(seconds), want); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(seconds*float64(b.N)/b.Elapsed().Seconds(), "×real-time")
}
