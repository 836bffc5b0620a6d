// The report as high as it is, and printable.
const frame = document.getElementById("report");
const print = document.getElementById("print");
print.hidden = false;
print.addEventListener("click", () => frame.contentWindow.print());
const fit = () => { frame.height = frame.contentDocument.documentElement.scrollHeight + 8; };
frame.addEventListener("load", fit);
addEventListener("resize", fit);
if (frame.contentDocument?.readyState === "complete") fit();
