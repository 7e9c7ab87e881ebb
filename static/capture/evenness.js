// What a test of heads comes to: the twin of fleet/water/evenness.py and nozzles.py, step by step, so that both come to
// the same figures to the last bit. tests/capture/test_evenness_twin.py holds the two together.

// From so many worn heads of one nozzle on, the set is replaced.
const SET_AT = 2;

/** The sum of finite numbers, rounded once at its end, whatever their order. */
export function total(numbers) {
  // What each addition rounds off is carried along beside the sum, smallest first.
  const parts = [];
  for (const number of numbers) {
    let sum = number;
    let kept = 0;
    for (const part of parts) {
      const [small, large] = Math.abs(sum) < Math.abs(part) ? [sum, part] : [part, sum];
      sum = large + small;
      const lost = small - (sum - large);
      if (lost) parts[kept++] = lost;
    }
    parts.length = kept;
    parts.push(sum);
  }
  let sum = parts.pop() ?? 0;
  while (parts.length) {
    const before = sum;
    const part = parts.pop();
    sum = before + part;
    const lost = part - (sum - before);
    if (!lost) continue;
    // Half way between two numbers the rest decides, and where it points the same way the sum moves on by one.
    const next = sum + 2 * lost;
    if (parts.length && Math.sign(parts.at(-1)) === Math.sign(lost) && next - sum === 2 * lost) sum = next;
    break;
  }
  return sum;
}

/** The nearest whole number, halves to the even one. */
function nearest(number) {
  const low = Math.floor(number);
  const over = number - low;
  return over > 0.5 || (over === 0.5 && low % 2 !== 0) ? low + 1 : low;
}

function christiansen(shares, mean) {
  return 100 * (1 - total(shares.map((one) => Math.abs(one - mean))) / (shares.length * mean));
}

function lowQuarter(shares, mean) {
  const heads = Math.max(1, nearest(shares.length / 4));
  const lowest = [...shares].sort((a, b) => a - b).slice(0, heads);
  return { heads, pct: (100 * total(lowest)) / lowest.length / mean };
}

function adviceOf(offNew, limit) {
  // A number a hair under the limit is at it: 3.3 L/min of 3.0 is a tenth over.
  if (Math.abs(offNew) < limit * (1 - 1e-9)) return "good";
  return offNew < 0 ? "clean" : "replace";
}

function sentenceOf(heads, limit) {
  const names = (advice) => heads.filter((head) => head.advice === advice).map((head) => head.name);
  const [blocked, worn] = [names("clean"), names("replace")];
  const said = [];
  if (blocked.length) said.push(`Clean and measure again: ${blocked.join(", ")}.`);
  if (worn.length >= SET_AT) said.push(`Replace the whole set: ${worn.join(", ")} are worn.`);
  else if (worn.length) said.push(`Replace: ${worn[0]}.`);
  const within = Number((limit * 100).toPrecision(6));
  return said.join(" ") || `Every head is within ${within} % of its flow when new.`;
}

/**
 * Each head against its flow when new at the test's pressure, and how even they are. `catches` are {name, nozzle,
 * nominal_l_min, litres, seconds}, every figure the text it was entered as. null where there is nothing to judge: no
 * head, all of them dry, or a pressure or time of zero.
 */
export function judge(catches, { pressure_kpa: pressure, head_kpa: headKpa, tolerance_pct: tolerance }) {
  const kpa = Number(pressure);
  if (!(kpa > 0) || catches.some((one) => !(Number(one.seconds) > 0))) return null;
  const limit = Number(tolerance) / 100;
  const heads = catches.map(({ name, nozzle, nominal_l_min: listed, litres, seconds }) => {
    const flow = (Number(litres) * 60) / Number(seconds);
    const nominal = Number(listed) * Math.sqrt(kpa / Number(headKpa));
    const share = flow / nominal;
    const offNew = share - 1;
    return { name, nozzle, flow, nominal, share, off_new: offNew, advice: adviceOf(offNew, limit) };
  });
  const shares = heads.map((head) => head.share);
  if (!shares.some((share) => share > 0)) return null;
  const mean = total(shares) / shares.length;
  const low = lowQuarter(shares, mean);
  const nozzles = [...new Set(heads.map((head) => head.nozzle))];
  return {
    heads,
    christiansen_pct: christiansen(shares, mean),
    low_quarter_pct: low.pct,
    low_quarter_heads: low.heads,
    sentences: nozzles.map((one) => `${one}: ${sentenceOf(heads.filter((head) => head.nozzle === one), limit)}`),
  };
}

/** A figure with one decimal as the yard's page rounds it: by its digits as they are written, halves away from zero. */
export function tenths(number) {
  const written = Math.abs(number) < 1e-6 ? "0" : String(Math.abs(number));
  const [whole, decimals = ""] = written.split(".");
  const counted = BigInt(whole + (decimals[0] ?? "0")) + (decimals[1] >= "5" ? 1n : 0n);
  const digits = String(counted).padStart(2, "0");
  return `${number < 0 && counted ? "-" : ""}${digits.slice(0, -1)}.${digits.at(-1)}`;
}

/** A share in whole per cent, as the yard's page rounds it. */
export const percent = (share) => String(nearest(share * 100) + 0);
