/** Prints how trending does: mixed speeds, open data, false alarms, forecast calibration. Minutes for the long version. */
import { falseAlarmsPerYear, limitForRate } from '../../collector/trend/false-alarms.ts';
import { printFalseAlarms } from './trend-false-alarms.ts';
import { calibrateAll, calibrateArrested, calibrationTable, coverage } from './trend-forecast.ts';
import { mixedSpeeds } from './trend-mixed-speeds.ts';
import {
  FEMTO,
  femtoBearing1,
  IMS,
  imsTest2,
  type OpenDataRow,
  peersAt,
  present,
} from './trend-open-data.ts';

const percent = (share: number) => `${(100 * share).toFixed(1)} %`;

/** Buses that raise the alert of a change, of `count`, without wear and with 1 dB of wear a week from week 6 on. */
export function mixedSpeedCounts(count: number) {
  const raised = { unlikeHealthy: 0, alikeHealthy: 0, unlikeWorn: 0, alikeWorn: 0 };
  const isRaised = (
    { events }: { events: { about: string; change: string; timeMs: number }[] },
    fromMs = 0,
  ) =>
    events.some(({ about, change, timeMs }) => about === 'change' && change === 'raised' && timeMs >= fromMs)
      ? 1
      : 0;
  for (let seed = 1; seed <= count; seed++) {
    const healthy = mixedSpeeds({ seed, wearFromWeek: 12, wearDbPerWeek: 0 });
    const worn = mixedSpeeds({ seed, wearFromWeek: 6, wearDbPerWeek: 1 });
    raised.unlikeHealthy += isRaised(healthy.unlike);
    raised.alikeHealthy += isRaised(healthy.alike);
    raised.unlikeWorn += isRaised(worn.unlike, worn.wearFromMs);
    raised.alikeWorn += isRaised(worn.alike, worn.wearFromMs);
  }
  return raised;
}

export function validateTrend(options: { livesPerLaw: number; print: (line: string) => void }): void {
  const { livesPerLaw, print } = options;
  const buses = 200;
  const mixed = mixedSpeedCounts(buses);
  print('Twelve weeks at mixed speeds: buses that raise an alert');
  print(
    `  no wear,            whole runs ${percent(mixed.unlikeHealthy / buses)}, like with like ${percent(mixed.alikeHealthy / buses)}`,
  );
  print(
    `  1 dB a week from 6, whole runs ${percent(mixed.unlikeWorn / buses)}, like with like ${percent(mixed.alikeWorn / buses)}`,
  );

  print('Expected false alarms a year at likeness 0.3, and limit for 0.1 a year, in spreads of the baseline');
  for (const baselineRuns of [8, 12]) {
    for (const runsPerYear of [52, 365]) {
      const design = { baselineRuns, runsPerYear };
      const rates = [3, 4, 6].map(
        (limitSd) => `${limitSd}: ${falseAlarmsPerYear({ ...design, limitSd }).toFixed(3)}`,
      );
      print(
        `  ${baselineRuns} runs, ${runsPerYear} a year: ${rates.join(', ')}; limit ${limitForRate(0.1, design).toFixed(2)}`,
      );
    }
  }
  printFalseAlarms(print);
  printOpenData(print);
  const results = calibrateAll(livesPerLaw, 100_000);
  print(`Forecast: ${livesPerLaw} lives a law`);
  print(calibrationTable([...results, calibrateArrested(livesPerLaw, 100_000)]));
  print('Share of 80 % ranges that hold the truth, laws counting alike');
  for (const group of [...new Set(results.map((result) => result.group))]) {
    print(`  ${group.padEnd(8)}${percent(coverage(results.filter((result) => result.group === group)))}`);
  }
  const strange = results.filter(({ group }) => group !== 'shaped');
  print(
    `  laws unlike the ensemble's own ${percent(coverage(strange))}, all laws ${percent(coverage(results))}`,
  );
}

function printOpenData(print: (line: string) => void): void {
  const show = (rows: OpenDataRow[]) => {
    for (const row of rows) {
      const before =
        row.raisedBeforeEndH === null
          ? 'not raised'
          : `raised ${row.raisedBeforeEndH.toFixed(1)} h before the end`;
      print(
        `  ${row.data} ${row.location.padEnd(11)} baseline ${row.baseline.toFixed(4)} g, limit ${row.raiseAbove.toFixed(4)} g, ${before}, ${row.alerts} alert(s), ${row.notRunning} runs standing`,
      );
    }
  };
  print('Open data, run to failure');
  if (present(IMS)) {
    for (const rowsPerRun of [1, 6, 12]) {
      print(`  ${rowsPerRun} row(s) a run`);
      const ims = imsTest2(rowsPerRun);
      show(ims.rows);
      const first = Math.min(...ims.rows.map((row) => ims.endMs - (row.raisedBeforeEndH ?? 0) * 3_600_000));
      print(
        `  stands apart at the first alert: ${peersAt(ims.watched, first).standsApart}; at the end: ${peersAt(ims.watched, ims.endMs).standsApart}`,
      );
    }
  } else print('  skipped: open data not present (ims)');
  if (present(FEMTO)) show(femtoBearing1().rows);
  else print('  skipped: open data not present (femto)');
}
