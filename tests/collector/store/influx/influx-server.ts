import { randomBytes } from 'node:crypto';
import type { InfluxSettings } from '../../../../collector/store/influx/settings.ts';

export const NO_INFLUX = 'skipped: INFLUX_URL not set';

/** The InfluxDB of the environment; null when there is none. */
export function influxOfEnvironment(): InfluxSettings | null {
  const { INFLUX_URL: url, INFLUX_TOKEN: token, INFLUX_ORG: org, INFLUX_BUCKET: bucket } = process.env;
  if (!url) return null;
  if (!token || !org || !bucket)
    throw new Error('INFLUX_URL needs INFLUX_TOKEN, INFLUX_ORG and INFLUX_BUCKET beside it');
  return { url, token, org, bucket };
}

/** A site that nobody wrote before: what a test leaves behind in a lasting bucket disturbs no other. */
export function freshSite(): string {
  return `t${randomBytes(6).toString('hex')}`;
}
