import type { CredentialSource } from '../../broker/index.ts';

export const SITE = 'depot';
export const NODE = '00a1b2c3d4e5f607';
export const OTHER_NODE = '00a1b2c3d4e5f608';
export const TOKEN = 'correct-token';

/** Every 16-digit name is a node, every other a service; one password for all. */
export const credentials: CredentialSource = {
  verify: async (username, password) => {
    if (password.toString() !== TOKEN) return null;
    return /^[0-9a-f]{16}$/.test(username)
      ? { role: 'node', nodeId: username }
      : { role: 'service', name: username };
  },
};
