"""The electronic invoice inside the PDF: EN 16931 in the syntax of UN/CEFACT, as Factur-X.

Business terms (BT) are named where their element is written. Amounts are those frozen on the
paper; nothing is reckoned here.

Sources: EN 16931-1 (terms), EN 16931-3-3 (their elements in Cross Industry Invoice D16B), Factur-X
1.0 profile EN 16931 (file name, metadata); codes of UNTDID 1001, 5305, 4461 and UN/ECE Rec 20.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from xml.etree import ElementTree as ET

from orders.models import Document
from orders.money.totals import CATEGORIES
from orders.papers.press import Enclosure
from workshop.money import minor_digits
from workshop.physics.sentences import without_zeros
from workshop.typed import plain_text

PROFILE = "urn:cen.eu:en16931:2017"
FILE_NAME = "factur-x.xml"
TYPE_CODES = {"invoice": "380", "credit": "381"}  # UNTDID 1001
ON_ACCOUNT = "386"  # UNTDID 1001: prepayment invoice
CREDIT_TRANSFER = "30"  # UNTDID 4461
PIECES = "C62"  # UN/ECE Rec 20: one
NAMESPACES = {
    "rsm": "urn:un:unece:uncefact:data:standard:CrossIndustryInvoice:100",
    "ram": "urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100",
    "udt": "urn:un:unece:uncefact:data:standard:UnqualifiedDataType:100",
    "qdt": "urn:un:unece:uncefact:data:standard:QualifiedDataType:100",
}
for _prefix, _uri in NAMESPACES.items():
    ET.register_namespace(_prefix, _uri)


def enclosure_for(paper: Document) -> tuple[list[Enclosure], list[bytes]]:
    """The file to put into the paper's PDF and the words about it; nothing where it cannot be."""
    if not carries_e_invoice(paper.content):
        return [], []
    enclosure = Enclosure(FILE_NAME, invoice_xml(paper.content), "Factur-X", "Alternative")
    return [enclosure], [xmp_about()]


def carries_e_invoice(content: Mapping[str, Any]) -> bool:
    """Whether the standard can hold this paper.

    It knows two decimals at most (BR-DEC), needs an identifier of the seller (BR-CO-26) and both
    countries (BR-9, BR-11).
    """
    seller = content["seller"]
    return bool(
        content.get("e_invoice")
        and content["kind"] in TYPE_CODES
        and minor_digits(content["currency"]) <= 2
        and seller["country"]
        and (seller["tax_number"] or seller["company_number"])
    )


def invoice_xml(content: Mapping[str, Any]) -> bytes:
    """The whole invoice or credit note as XML, from its frozen content."""
    root = ET.Element(_name("rsm:CrossIndustryInvoice"))
    about = _add(root, "rsm:ExchangedDocumentContext")
    profile = _add(about, "ram:GuidelineSpecifiedDocumentContextParameter")
    _add(profile, "ram:ID", PROFILE)  # BT-24
    document = _add(root, "rsm:ExchangedDocument")
    _add(document, "ram:ID", content["number"])  # BT-1
    code = ON_ACCOUNT if content.get("on_account") else TYPE_CODES[content["kind"]]
    _add(document, "ram:TypeCode", code)  # BT-3
    _day(_add(document, "ram:IssueDateTime"), content["issued_on"])  # BT-2
    for words in (content.get("reason"), content.get("words")):
        if words:
            _add(_add(document, "ram:IncludedNote"), "ram:Content", words)  # BT-22
    trade = _add(root, "rsm:SupplyChainTradeTransaction")
    for place, line in enumerate(content["lines"], start=1):
        _line(trade, place, line)
    _agreement(trade, content)
    _delivery(trade, content)
    _settlement(trade, content)
    return ET.tostring(root, encoding="utf-8", xml_declaration=True)


def _name(tag: str) -> str:
    prefix, name = tag.split(":")
    return f"{{{NAMESPACES[prefix]}}}{name}"


def _add(parent: ET.Element, tag: str, text: str | None = None, **attributes: str) -> ET.Element:
    element = ET.SubElement(parent, _name(tag), attributes)
    if text is not None:
        element.text = plain_text(text)
    return element


def _amount(text: str) -> str:
    """At most two decimals, as BR-DEC asks; nothing is written as -0.00 (BR-E-09)."""
    return f"{Decimal(text) + 0:.2f}"


def _day(parent: ET.Element, iso: str) -> None:
    _add(parent, "udt:DateTimeString", iso.replace("-", ""), format="102")


def _line(trade: ET.Element, place: int, line: Mapping[str, Any]) -> None:
    quantity, net = line["quantity"] or 1, Decimal(line["net"])
    item = _add(trade, "ram:IncludedSupplyChainTradeLineItem")
    _add(_add(item, "ram:AssociatedDocumentLineDocument"), "ram:LineID", str(place))  # BT-126
    product = _add(item, "ram:SpecifiedTradeProduct")
    _add(product, "ram:Name", line["words"])  # BT-153
    if line.get("detail"):
        _add(product, "ram:Description", line["detail"])  # BT-154
    agreement = _add(item, "ram:SpecifiedLineTradeAgreement")
    price = _add(agreement, "ram:NetPriceProductTradePrice")
    _add(price, "ram:ChargeAmount", without_zeros(f"{net / quantity:.6f}"))  # BT-146
    delivery = _add(item, "ram:SpecifiedLineTradeDelivery")
    _add(delivery, "ram:BilledQuantity", str(quantity), unitCode=PIECES)  # BT-129
    settlement = _add(item, "ram:SpecifiedLineTradeSettlement")
    _tax_kind(_add(settlement, "ram:ApplicableTradeTax"), line["category"], line["rate"])
    summed = _add(settlement, "ram:SpecifiedTradeSettlementLineMonetarySummation")
    _add(summed, "ram:LineTotalAmount", _amount(line["net"]))  # BT-131


def _tax_kind(tax: ET.Element, category: str, rate: str) -> None:
    _add(tax, "ram:TypeCode", "VAT")
    _add(tax, "ram:CategoryCode", category)  # BT-151, BT-95, BT-102
    if category != "O":  # BR-O-05: what is outside the scope carries no rate
        _add(tax, "ram:RateApplicablePercent", f"{Decimal(rate):.2f}")


def _agreement(trade: ET.Element, content: Mapping[str, Any]) -> None:
    agreement = _add(trade, "ram:ApplicableHeaderTradeAgreement")
    seller = content["seller"]
    party = _add(agreement, "ram:SellerTradeParty")
    _add(party, "ram:Name", seller["name"])  # BT-27
    if seller["company_number"]:
        legal = _add(party, "ram:SpecifiedLegalOrganization")
        _add(legal, "ram:ID", seller["company_number"])  # BT-30
    _address(party, seller)
    if seller["tax_number"]:
        _add(
            _add(party, "ram:SpecifiedTaxRegistration"),
            "ram:ID",
            seller["tax_number"],
            schemeID="VA",
        )  # BT-31
    buyer = content["buyer"]
    party = _add(agreement, "ram:BuyerTradeParty")
    _add(party, "ram:Name", buyer["name"])  # BT-44
    # BR-11 asks for the buyer's country; a customer without one is taken for a neighbour.
    _address(party, {**buyer, "country": buyer["country"] or seller["country"]})
    if buyer["tax_number"] and not _outside(content):
        _add(
            _add(party, "ram:SpecifiedTaxRegistration"),
            "ram:ID",
            buyer["tax_number"],
            schemeID="VA",
        )  # BT-48
    if content.get("order"):
        order = _add(agreement, "ram:SellerOrderReferencedDocument")
        _add(order, "ram:IssuerAssignedID", str(content["order"]))  # BT-14


def _outside(content: Mapping[str, Any]) -> bool:
    return any(tax["category"] == "O" for tax in content["taxes"])


def _address(party: ET.Element, who: Mapping[str, Any]) -> None:
    address = _add(party, "ram:PostalTradeAddress")
    lines = [line.strip() for line in who["address"].splitlines() if line.strip()]
    for tag, line in zip(("LineOne", "LineTwo", "LineThree"), lines, strict=False):
        _add(address, f"ram:{tag}", line)  # BT-35, BT-36, BT-162; BT-50, BT-51, BT-163
    _add(address, "ram:CountryID", who["country"].upper())  # BT-40, BT-55


def _delivery(trade: ET.Element, content: Mapping[str, Any]) -> None:
    delivery = _add(trade, "ram:ApplicableHeaderTradeDelivery")
    if content.get("supplied_on"):
        event = _add(delivery, "ram:ActualDeliverySupplyChainEvent")
        _day(_add(event, "ram:OccurrenceDateTime"), content["supplied_on"])  # BT-72
    else:  # not delivered yet; no element of the file may be empty
        _add(_add(delivery, "ram:ShipToTradeParty"), "ram:Name", content["buyer"]["name"])  # BT-70


def _settlement(trade: ET.Element, content: Mapping[str, Any]) -> None:
    settlement = _add(trade, "ram:ApplicableHeaderTradeSettlement")
    _add(settlement, "ram:PaymentReference", content["number"])  # BT-83
    _add(settlement, "ram:InvoiceCurrencyCode", content["currency"])  # BT-5
    if content["seller"]["iban"] and content["kind"] == "invoice":
        _means(settlement, content["seller"])
    for tax in content["taxes"]:
        _tax(settlement, tax, content.get("received_on"))
    for charge in content["charges"]:
        _charge(settlement, charge)
    if content.get("due_on"):
        terms = _add(settlement, "ram:SpecifiedTradePaymentTerms")
        _day(_add(terms, "ram:DueDateDateTime"), content["due_on"])  # BT-9
    elif content["kind"] == "credit":
        terms = _add(settlement, "ram:SpecifiedTradePaymentTerms")
        _add(terms, "ram:Description", "To be set off or given back")  # BT-20
    _sums(settlement, content)
    named = [content["names"]] if content.get("names") else content.get("preceding", ())
    for paper in named:  # BG-3
        reference = _add(settlement, "ram:InvoiceReferencedDocument")
        _add(reference, "ram:IssuerAssignedID", paper["number"])  # BT-25
        day = _add(reference, "ram:FormattedIssueDateTime")
        on = paper["issued_on"].replace("-", "")
        _add(day, "qdt:DateTimeString", on, format="102")  # BT-26


def _means(settlement: ET.Element, seller: Mapping[str, Any]) -> None:
    means = _add(settlement, "ram:SpecifiedTradeSettlementPaymentMeans")
    _add(means, "ram:TypeCode", CREDIT_TRANSFER)  # BT-81
    account = _add(means, "ram:PayeePartyCreditorFinancialAccount")
    _add(account, "ram:IBANID", seller["iban"].replace(" ", ""))  # BT-84
    if seller["bic"]:
        bank = _add(means, "ram:PayeeSpecifiedCreditorFinancialInstitution")
        _add(bank, "ram:BICID", seller["bic"])  # BT-86


def _tax(settlement: ET.Element, tax: Mapping[str, Any], fell_due: str | None) -> None:
    """fell_due: the day a payment on account came in, on which its tax fell due."""
    category = tax["category"]
    element = _add(settlement, "ram:ApplicableTradeTax")
    _add(element, "ram:CalculatedAmount", _amount(tax["tax"]))  # BT-117
    _add(element, "ram:TypeCode", "VAT")
    if category not in {"S", "Z"}:
        reason = tax.get("reason") or CATEGORIES[category] or "Exempt"
        _add(element, "ram:ExemptionReason", reason)  # BT-120
    _add(element, "ram:BasisAmount", _amount(tax["base"]))  # BT-116
    _add(element, "ram:CategoryCode", category)  # BT-118
    if fell_due:
        day = _add(element, "ram:TaxPointDate")
        _add(day, "udt:DateString", fell_due.replace("-", ""), format="102")  # BT-7
    if category != "O":
        _add(element, "ram:RateApplicablePercent", f"{Decimal(tax['rate']):.2f}")  # BT-119


def _charge(settlement: ET.Element, charge: Mapping[str, Any]) -> None:
    element = _add(settlement, "ram:SpecifiedTradeAllowanceCharge")
    discount = charge["role"] == "discount"
    indicator = _add(element, "ram:ChargeIndicator")
    _add(indicator, "udt:Indicator", "false" if discount else "true")
    _add(element, "ram:ActualAmount", _amount(charge["net"]))  # BT-92, BT-99
    words = charge.get("words") or ("Discount" if discount else "Carriage")
    _add(element, "ram:Reason", words)  # BT-97, BT-104
    _tax_kind(_add(element, "ram:CategoryTradeTax"), charge["category"], charge["rate"])


def _sums(settlement: ET.Element, content: Mapping[str, Any]) -> None:
    sums = content["sums"]
    element = _add(settlement, "ram:SpecifiedTradeSettlementHeaderMonetarySummation")
    _add(element, "ram:LineTotalAmount", _amount(sums["lines"]))  # BT-106
    _add(element, "ram:ChargeTotalAmount", _amount(sums["charges"]))  # BT-108
    _add(element, "ram:AllowanceTotalAmount", _amount(sums["allowances"]))  # BT-107
    _add(element, "ram:TaxBasisTotalAmount", _amount(sums["net"]))  # BT-109
    _add(
        element, "ram:TaxTotalAmount", _amount(sums["tax"]), currencyID=content["currency"]
    )  # BT-110
    if Decimal(sums["rounding"]):
        _add(element, "ram:RoundingAmount", _amount(sums["rounding"]))  # BT-114
    _add(element, "ram:GrandTotalAmount", _amount(sums["gross"]))  # BT-112
    _add(element, "ram:TotalPrepaidAmount", _amount(sums["prepaid"]))  # BT-113
    _add(element, "ram:DuePayableAmount", _amount(sums["due"]))  # BT-115


def xmp_about() -> bytes:
    """What the PDF says of the file inside it, with the schema that PDF/A asks for."""
    fields = (
        ("DocumentFileName", "name of the embedded XML invoice file"),
        ("DocumentType", "INVOICE"),
        ("Version", "version of the embedded invoice's standard"),
        ("ConformanceLevel", "profile of the embedded invoice"),
    )
    described = "".join(
        '<rdf:li rdf:parseType="Resource">'
        f"<pdfaProperty:name>{name}</pdfaProperty:name>"
        "<pdfaProperty:valueType>Text</pdfaProperty:valueType>"
        "<pdfaProperty:category>external</pdfaProperty:category>"
        f"<pdfaProperty:description>{words}</pdfaProperty:description></rdf:li>"
        for name, words in fields
    )
    space = "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#"
    return (
        f'<rdf:Description rdf:about="" xmlns:fx="{space}">'
        f"<fx:DocumentType>INVOICE</fx:DocumentType>"
        f"<fx:DocumentFileName>{FILE_NAME}</fx:DocumentFileName>"
        "<fx:Version>1.0</fx:Version><fx:ConformanceLevel>EN 16931</fx:ConformanceLevel>"
        "</rdf:Description>"
        '<rdf:Description rdf:about="" '
        'xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/" '
        'xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" '
        'xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">'
        '<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">'
        "<pdfaSchema:schema>Factur-X PDFA Extension Schema</pdfaSchema:schema>"
        f"<pdfaSchema:namespaceURI>{space}</pdfaSchema:namespaceURI>"
        "<pdfaSchema:prefix>fx</pdfaSchema:prefix>"
        f"<pdfaSchema:property><rdf:Seq>{described}</rdf:Seq></pdfaSchema:property>"
        "</rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>"
    ).encode()
