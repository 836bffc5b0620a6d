// One tap gives the usual answer to every cylinder not answered yet.
const rest = document.querySelector("[data-rest]");
if (rest) {
  rest.hidden = false;
  rest.addEventListener("click", () => {
    for (const answer of document.querySelectorAll(".answer")) {
      if (!answer.querySelector("input:checked")) answer.querySelector("input[type=radio]").checked = true;
    }
  });
}
