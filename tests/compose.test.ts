import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Ajv } from 'ajv';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';

const root = join(dirname(fileURLToPath(import.meta.url)), '..');
const compose = parse(readFileSync(join(root, 'docker-compose.yml'), 'utf8'), { merge: true });

/** The Compose specification's own JSON schema, as the package dclint carries it. */
function composeSchema(): object {
  const schema = JSON.parse(
    readFileSync(join(root, 'node_modules/dclint/schemas/compose.schema.json'), 'utf8'),
  );
  // Draft 2019-09 by name only: ajv's default dialect knows every keyword it uses.
  delete schema.$schema;
  return schema;
}

describe('docker-compose.yml', () => {
  it('is valid by the Compose specification', () => {
    const validate = new Ajv({ strict: false, validateFormats: false }).compile(composeSchema());
    expect(validate(compose), JSON.stringify(validate.errors, null, 1)).toBe(true);
  });

  it('the schema does refuse a wrong file', () => {
    const validate = new Ajv({ strict: false, validateFormats: false }).compile(composeSchema());
    expect(validate({ services: { broker: { ports: 'none', nonsense: true } } })).toBe(false);
  });

  it('runs broker, collector and dashboard from one image on one volume', () => {
    expect(Object.keys(compose.services)).toEqual(['broker', 'collector', 'dashboard']);
    const images = new Set(Object.values<{ image: string }>(compose.services).map(({ image }) => image));
    expect(images.size).toBe(1);
    for (const service of Object.values<{ volumes: string[] }>(compose.services)) {
      expect(service.volumes).toEqual(['data:/data']);
    }
  });

  it('copies only what is in the repository', () => {
    const copies = compose.services.broker.build.dockerfile_inline.matchAll(/^COPY (?!--from)(.*)$/gm);
    const sources = [...copies].flatMap(([, line]) => line.split(' ').slice(0, -1));
    expect(sources.length).toBeGreaterThan(4);
    for (const source of sources) expect(existsSync(join(root, source)), source).toBe(true);
  });

  it('opens no port beyond this machine unless told to', () => {
    for (const service of Object.values<{ ports?: string[] }>(compose.services)) {
      for (const port of service.ports ?? [])
        expect(port).toMatch(/^(127\.0\.0\.1|\$\{CLAMPLINE_NODES_ADDRESS:-127\.0\.0\.1\}):/);
    }
  });
});
