import { lookup as systemLookup } from 'node:dns';
import { BlockList, isIP, type LookupFunction } from 'node:net';

/**
 * Addresses that are no place on the public internet: private, shared, loopback, link-local, documentation, multicast
 * and reserved ones (IANA special-purpose address registries, from memory). Of IPv6 only global unicast is public at
 * all, without the blocks in it that lead elsewhere (Teredo, 6to4, documentation).
 */
const NOT_PUBLIC_4 = blocked('ipv4', [
  '0.0.0.0/8',
  '10.0.0.0/8',
  '100.64.0.0/10',
  '127.0.0.0/8',
  '169.254.0.0/16',
  '172.16.0.0/12',
  '192.0.0.0/24',
  '192.0.2.0/24',
  '192.88.99.0/24',
  '192.168.0.0/16',
  '198.18.0.0/15',
  '198.51.100.0/24',
  '203.0.113.0/24',
  '224.0.0.0/4',
  '240.0.0.0/4',
]);
const GLOBAL_6 = blocked('ipv6', ['2000::/3']);
const NOT_PUBLIC_6 = blocked('ipv6', ['2001::/23', '2001:db8::/32', '2002::/16', '3fff::/20']);

/** The own network, once it is permitted. Link-local stays out: there clouds keep their machines' secrets. */
const OWN_NETWORK_4 = blocked('ipv4', ['10.0.0.0/8', '127.0.0.0/8', '172.16.0.0/12', '192.168.0.0/16']);
const OWN_NETWORK_6 = blocked('ipv6', ['::1/128', 'fc00::/7']);

export class AddressRefused extends Error {
  readonly code = 'ADDRESS_REFUSED';
  constructor(address: string) {
    super(`${address} is not a public address; private, loopback and link-local networks are refused`);
    this.name = 'AddressRefused';
  }
}

export function isPermitted(address: string, allowOwnNetwork: boolean): boolean {
  const version = isIP(address);
  if (version === 4) {
    return !NOT_PUBLIC_4.check(address, 'ipv4') || (allowOwnNetwork && OWN_NETWORK_4.check(address, 'ipv4'));
  }
  // An address with a zone ("fe80::1%eth0") or an IPv4 one in IPv6's clothes is none of the global ones.
  if (version !== 6 || address.includes('%')) return false;
  const isPublic = GLOBAL_6.check(address, 'ipv6') && !NOT_PUBLIC_6.check(address, 'ipv6');
  return isPublic || (allowOwnNetwork && OWN_NETWORK_6.check(address, 'ipv6'));
}

/**
 * A lookup for one connection: the addresses it hands over were checked, and the connection is made to one of these
 * very addresses. A name that answers otherwise a moment later is not asked again.
 *
 * A name with one address that is not permitted is refused as a whole: nobody needs such names.
 */
export function checkedLookup(
  allowOwnNetwork: boolean,
  resolve: typeof systemLookup = systemLookup,
): LookupFunction {
  return (hostname, options, callback) => {
    resolve(hostname, { ...options, all: true }, (error, addresses) => {
      const fail = (reason: Error) => callback(reason as NodeJS.ErrnoException, '', 0);
      if (error) return fail(error);
      const refused = addresses.find(({ address }) => !isPermitted(address, allowOwnNetwork));
      if (refused !== undefined) return fail(new AddressRefused(`${hostname} (${refused.address})`));
      const [first] = addresses;
      if (first === undefined) return fail(new Error(`${hostname} has no address`));
      if (options.all) callback(null, addresses);
      else callback(null, first.address, first.family);
    });
  };
}

function blocked(family: 'ipv4' | 'ipv6', networks: readonly string[]): BlockList {
  const list = new BlockList();
  for (const network of networks) {
    const [address, bits] = network.split('/') as [string, string];
    list.addSubnet(address, Number(bits), family);
  }
  return list;
}
