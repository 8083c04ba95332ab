// Turns a wheel picture: its rotor, and its texts back upright.

/**
 * Show the picture with the zero mark at room angle `zeroMark`.
 * @param {Element} box holds the picture
 * @param {number} zeroMark degrees counter-clockwise from straight down
 */
export function turnPicture(box, zeroMark) {
  const phi = zeroMark.toFixed(2);
  box.querySelector("[data-part=rotor]")?.setAttribute("transform", `rotate(${-Number(phi)})`);
  for (const text of box.querySelectorAll("[data-upright]")) text.setAttribute("transform", `rotate(${phi} ${text.getAttribute("data-x")} ${text.getAttribute("data-y")})`);
}
