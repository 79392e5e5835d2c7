/** A station's store in a process of its own, to be killed: commits second after second and says which is durable. */

import type { Reading } from '../../../../collector/model.ts';
import { openInfluxStore } from '../../../../collector/store/influx/influx-store.ts';

const [file, url] = process.argv.slice(2) as [string, string];
const store = await openInfluxStore(file, { url, token: 't', org: 'o', bucket: 'b' }, { site: 'depot' });

function reading(second: number): Reading {
  return {
    nodeId: '00000000000000b1',
    sensor: 0,
    startMs: second * 1000,
    durationS: 1,
    sampleRateHz: 3200,
    bandHz: [10, 1000],
    axes: [
      {
        axis: 'single',
        velocityRmsMmPerS: 1 + (second % 9),
        accelerationRmsMPerS2: 2,
        accelerationPeakMPerS2: 7,
        crestFactor: 3.5,
        kurtosis: 3,
      },
    ],
    flags: [],
  };
}

for (let at = await store.journalPosition(); ; at++) {
  await store.commit([reading(1_760_000_400 + at)], at + 1);
  process.stdout.write(`${at}\n`);
  await new Promise((resolve) => setImmediate(resolve));
}
