// What to say when a clip can't be used, or only with care, and what to do about it. Pure data, no page.

/**
 * @typedef {object} Message
 * @property {string} code short name, for tests and for the server's notes
 * @property {string} say what is wrong
 * @property {string} todo what the person can do about it
 */

/** @type {Record<string, (d: any) => {say: string, todo: string}>} */
const WORDS = {
  "not-a-clip": () => ({ say: "This file is not a clip.", todo: "Choose the film itself (MP4, MOV or WebM) as the phone recorded it." }),
  "a-picture": () => ({ say: "This file is a picture, not a clip.", todo: "Film the swing: the angle is read from how it changes with time." }),
  "empty-file": () => ({ say: "This file is empty.", todo: "Copy the clip again; the transfer may have been broken off." }),
  damaged: (d) => ({ say: `The clip is damaged: ${d.what}.`, todo: "Copy it again from the phone, or film again." }),
  "cut-short": () => ({ say: "The clip ends before its own table of contents says: part of the file is missing.", todo: "Copy it again from the phone; let the transfer finish." }),
  "no-picture-track": () => ({ say: "The file holds no film, only sound or text.", todo: "Choose the clip that shows the wheel." }),
  "no-timestamps": () => ({ say: "The clip does not tell when each of its pictures was taken.", todo: "Use the clip as the phone's camera recorded it, not a copy made by an editor." }),
  "cannot-decode": (d) => ({ say: `This browser can't show the clip${d.what ? ` (${d.what})` : ""}.`, todo: "Set the camera to its most compatible format (H.264) and film again, or open this page in another browser." }),
  stalled: () => ({ say: "No picture of the clip came for a while.", todo: "Keep this page in front and the screen on while the clip plays, and start again." }),
  "table-too-large": () => ({ say: "The clip's table of contents is too large to be read.", todo: "Cut the clip to the swing: a minute is enough." }),
  "too-short": (d) => ({ say: `Only ${d.frames} pictures with an angle.`, todo: "Film at least one whole swing, or take the cut ends wider." }),
  "no-dot": () => ({ say: "No dot was found.", todo: "Tap it in the picture. If there is none: stick a round one, 10 to 14 mm, of a strong colour on the wheel's side and film again." }),
  "dot-like-wheel": () => ({ say: "The dot's colour is too close to the wheel's.", todo: "Use a dot of a strong colour (red, blue, green, orange), or more light." }),
  "dot-lost": (d) => ({ say: `Dot ${d.dot} lost from ${fixed(d.from_s)} s to ${fixed(d.to_s)} s: ${d.why}.`, todo: LOST_TODO[d.why] ?? "Show the clip at that time and tap the dot there." }),
  "marks-lost": (d) => ({ say: `A fixed mark was not seen in ${d.percent} % of the pictures.`, todo: "Tap marks that nothing passes in front of." }),
  "phone-moved": (d) => ({ say: `The phone moved by ${d.px.toFixed(0)} pixels, and there are no fixed marks to take that out: all angles are taken as up to ${(2 * d.deg).toFixed(1)}° off.`, todo: "Tap two marks on the stand at the same height, or film with the phone on something firm." }),
  "phone-moved-far": (d) => ({ say: `The phone moved by ${d.px.toFixed(0)} pixels, and there are no fixed marks to take that out: no angle can be told.`, todo: "Tap two marks on the stand at the same height, or film again with the phone on something firm." }),
  "no-level": () => ({ say: "Straight down is taken from the phone, held upright.", todo: "Two marks on the stand at the same height make it certain: each degree of tilt is a degree of the heavy side." }),
  "far-off-axis": (d) => ({ say: `The camera looks ${d.deg.toFixed(0)}° off the arbor's axis.`, todo: "Film from straight in front of the wheel: within 20° the correction is good." }),
  "one-dot": (d) => ({ say: `With this one dot the angles may be off by up to ${(2 * d.deg).toFixed(1)}° round the turn.`, todo: "Set the centre with care, by the arrows and the loupe; or stick a second dot about opposite and film again." }),
  "slow-frames": (d) => ({ say: `Only ${d.per_s.toFixed(0)} pictures a second.`, todo: "Film with 24 or more a second; fewer blur the passage." }),
  "seek-times": () => ({ say: "This browser tells the times of pictures only roughly.", todo: "Use a current browser; the angles are given a larger uncertainty here." }),
  "mirrored": (d) => ({ say: `Dot B stands ${d.seen.toFixed(0)}° counter-clockwise of dot A in the clip, but ${d.typed.toFixed(0)}° by the places typed: the clip is mirrored, filmed from behind, or A and B are taken for each other.`, todo: "Swap A and B if they are the wrong way round; else choose “mirrored, or from behind”." }),
  "places-differ": (d) => ({ say: `Dot B stands ${d.seen.toFixed(0)}° counter-clockwise of dot A in the clip, but ${d.typed.toFixed(0)}° by the places typed.`, todo: "Check which dot is A and both places on the scale." }),
  "dots-not-rigid": () => ({ say: "The dots do not move as on one wheel.", todo: "Check that each dot's tap is on the wheel, and the centre on the arbor." }),
  "long-clip": (d) => ({ say: `The clip lasts ${(d.s / 60).toFixed(1)} minutes.`, todo: "The first two minutes are used; move the cut ends for another part." }),
  "hardly-moves": (d) => ({ say: `The wheel turns by ${d.deg.toFixed(1)}° only.`, todo: "Turn it by hand to 60° or more aside from its rest place, let go, and film from then on." }),
};

/** @type {Record<string, string>} */
const LOST_TODO = {
  hidden: "A dot behind the stand is no harm as long as the other one is seen.",
  blurred: "More light, or a slower swing, gives sharper pictures.",
  "out of the picture": "Film from farther away, so that the whole wheel stays in the picture.",
  "not found": "Show the clip at that time and tap the dot there.",
};

/** @param {number} v */
function fixed(v) {
  return v.toFixed(1);
}

/**
 * The message of a code.
 * @param {string} code one of the table's names
 * @param {object} [details] what its words need
 * @returns {Message}
 */
export function message(code, details = {}) {
  const words = WORDS[code];
  if (!words) throw new RangeError(`no message is called ${code}`);
  return { code, ...words(details) };
}

/** A clip, or its tracking, that can't go on: carries a {@link Message}. */
export class ClipFault extends Error {
  /**
   * @param {string} code
   * @param {object} [details]
   */
  constructor(code, details = {}) {
    const m = message(code, details);
    super(`${m.say} ${m.todo}`);
    this.name = "ClipFault";
    /** @type {string} */
    this.code = code;
    /** @type {Message} */
    this.words = m;
  }
}
