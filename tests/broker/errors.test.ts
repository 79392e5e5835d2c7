import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { BROKER_ERRORS, BrokerError } from '../../broker/index.ts';

const folder = fileURLToPath(new URL('../../broker', import.meta.url));
const sources = readdirSync(folder, { recursive: true, encoding: 'utf8' })
  .filter((name) => name.endsWith('.ts') && name !== 'errors.ts')
  .map((name) => readFileSync(`${folder}/${name}`, 'utf8'));

describe('the errors of the broker', () => {
  it('are all thrown somewhere, and nothing else is', () => {
    const code = sources.join('\n');
    for (const name of Object.keys(BROKER_ERRORS)) expect(code, name).toContain(`'${name}'`);
    // What the publish hook throws ends one connection and never leaves this part.
    const bare = sources.filter(
      (text) => /throw new (?!BrokerError)/.test(text) && !/createPublishHook/.test(text),
    );
    expect(bare).toEqual([]);
  });

  it('say what is wrong, where, and what to do', () => {
    const error = new BrokerError('BROKER_PORT_TAKEN', '127.0.0.1:1883');
    expect(error.message).toBe('another program already listens on the MQTT port: 127.0.0.1:1883');
    expect(error.remedy).toContain('--mqtt-port');
    for (const [message, remedy] of Object.values(BROKER_ERRORS)) {
      expect(message.length).toBeGreaterThan(10);
      expect(remedy).toMatch(/^[A-Z].*\.$/);
    }
  });
});
