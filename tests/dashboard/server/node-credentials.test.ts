import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { openNodeCredentials } from '../../../dashboard/server/index.ts';
import { NODE_A, records } from './support.ts';
import { tempDir } from './temp-dir.ts';

describe('node credentials, as the broker reads them', () => {
  it('follow the records file from before it exists, through adding and revoking', async () => {
    const folder = tempDir();
    const credentials = openNodeCredentials(join(folder, 'records.sqlite'));
    onTestFinished(() => credentials.close());
    expect(await credentials.verify(NODE_A, Buffer.from('anything'))).toBeNull();

    const store = records({ folder });
    expect(await credentials.verify(NODE_A, Buffer.from('anything'))).toBeNull();
    const first = store.nodes.add(NODE_A, 'n');
    expect(first).toMatch(/^[0-9a-f]{32}$/);
    expect(await credentials.verify(NODE_A, Buffer.from(first))).toEqual({ role: 'node', nodeId: NODE_A });
    expect(await credentials.verify(NODE_A, Buffer.from(`${first.slice(0, -1)}x`))).toBeNull();
    expect(await credentials.verify(NODE_A, Buffer.alloc(0))).toBeNull();
    expect(await credentials.verify('', Buffer.from(first))).toBeNull();

    store.nodes.revoke(NODE_A);
    expect(await credentials.verify(NODE_A, Buffer.from(first))).toBeNull();
    const second = store.nodes.add(NODE_A, 'n');
    expect(await credentials.verify(NODE_A, Buffer.from(first))).toBeNull();
    expect(await credentials.verify(NODE_A, Buffer.from(second))).not.toBeNull();
  });

  it('know the accounts of the station itself without the file', async () => {
    const credentials = openNodeCredentials(join(tempDir(), 'none.sqlite'), { collector: 'secret' });
    expect(await credentials.verify('collector', Buffer.from('secret'))).toEqual({
      role: 'service',
      name: 'collector',
    });
    expect(await credentials.verify('collector', Buffer.from('Secret'))).toBeNull();
  });
});
