import django.db.models.deletion
import planner.trail.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('letters', '0002_reading_reason'),
        ('plans', '0006_consents'),
        ('practice', '0004_proposals_in_words'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='document',
            name='issue',
            field=models.TextField(blank=True),
        ),
        migrations.CreateModel(
            name='Consent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('option_key', models.CharField(max_length=200)),
                ('says_sha256', models.CharField(max_length=64)),
                ('state', models.CharField(choices=[('none', 'none'), ('letter handed', 'letter handed'), ('questions open', 'questions open'), ('signed', 'signed'), ('withdrawn', 'withdrawn'), ('replaced', 'replaced')], default='none', max_length=20)),
                ('at', models.DateTimeField()),
                ('case', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='consents', to='plans.case')),
                ('estimate', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='consents', to='plans.estimate')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('case', '-id'),
                'indexes': [models.Index(fields=['office', 'state'], name='consent_by_state')],
                'constraints': [models.UniqueConstraint(condition=models.Q(('state__in', ('withdrawn', 'replaced')), _negated=True), fields=('estimate', 'says_sha256'), name='consent_once_for_a_letter'), models.CheckConstraint(condition=models.Q(('state__in', ['none', 'letter handed', 'questions open', 'signed', 'withdrawn', 'replaced'])), name='consent_state')],
            },
        ),
        migrations.CreateModel(
            name='Handing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('to', models.CharField(max_length=200)),
                ('channel', models.CharField(choices=[('on paper, by hand', 'Paper'), ('paper by post', 'Post'), ('on the office tablet', 'Tablet'), ("as a file, at the patient's wish", 'File')], max_length=40)),
                ('handed_at', models.DateTimeField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('consent', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='handings', to='letters.consent')),
                ('document', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='handings', to='letters.document')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('consent', 'id'),
                'constraints': [models.CheckConstraint(condition=models.Q(('to', ''), _negated=True), name='handed_to_somebody'), models.CheckConstraint(condition=models.Q(('channel__in', ['on paper, by hand', 'paper by post', 'on the office tablet', "as a file, at the patient's wish"])), name='handed_channel_known')],
            },
        ),
        migrations.CreateModel(
            name='Question',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('words', models.TextField()),
                ('asked_by', models.CharField(max_length=200)),
                ('clinical', models.BooleanField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('consent', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='questions', to='letters.consent')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('consent', 'id'),
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('words', ''), _negated=True), models.Q(('asked_by', ''), _negated=True)), name='question_asked_by_somebody')],
            },
        ),
        migrations.CreateModel(
            name='QuestionAnswer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('words', models.TextField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('question', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='answers', to='letters.question')),
            ],
            options={
                'ordering': ('question', 'id'),
                'constraints': [models.CheckConstraint(condition=models.Q(('words', ''), _negated=True), name='answer_not_empty')],
            },
        ),
        migrations.CreateModel(
            name='Signature',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('document_sha256', models.CharField(max_length=64)),
                ('content', models.TextField()),
                ('sha256', models.CharField(max_length=64)),
                ('signer', models.CharField(max_length=200)),
                ('basis', models.CharField(choices=[('self', 'self'), ('parent', 'parent'), ('guardian', 'guardian'), ('court order', 'court order'), ('power of attorney', 'power of attorney'), ('decision-maker', 'decision-maker')], max_length=30)),
                ('method', models.CharField(choices=[('typed name', 'typed name'), ('drawn', 'drawn'), ('mark before a witness', 'mark before a witness'), ('spoken yes before two of the staff', 'spoken yes before two of the staff')], max_length=50)),
                ('choice', models.CharField(choices=[('yes', 'yes'), ('yes, to a part', 'yes, to a part'), ('no treatment', 'no treatment'), ('not now', 'not now'), ('prefers not to be told details', 'prefers not to be told details')], max_length=40)),
                ('pieces', models.JSONField(default=list)),
                ('signed_on', models.DateField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clinician', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('consent', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='signature', to='letters.consent')),
                ('copy', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='signature_of', to='letters.document')),
                ('document', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='signatures', to='letters.document')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('consent', 'id'),
                'indexes': [models.Index(fields=['office', '-at', '-id'], name='signature_newest')],
                'constraints': [models.CheckConstraint(condition=models.Q(('signer', ''), _negated=True), name='signed_by_somebody'), models.CheckConstraint(condition=models.Q(('choice__in', ['yes', 'yes, to a part', 'no treatment', 'not now', 'prefers not to be told details'])), name='signed_choice_known'), models.CheckConstraint(condition=models.Q(('method__in', ['typed name', 'drawn', 'mark before a witness', 'spoken yes before two of the staff'])), name='signed_method_known'), models.CheckConstraint(condition=models.Q(('basis__in', ['self', 'parent', 'guardian', 'court order', 'power of attorney', 'decision-maker'])), name='signed_basis_known')],
            },
        ),
        migrations.CreateModel(
            name='Countersignature',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('licence', models.CharField(max_length=60)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('signature', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='countersignature', to='letters.signature')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('licence', ''), _negated=True), name='countersigned_with_licence')],
            },
        ),
        migrations.CreateModel(
            name='Withdrawal',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('words', models.TextField()),
                ('said_by', models.CharField(max_length=200)),
                ('how', models.CharField(max_length=200)),
                ('said_at', models.DateTimeField()),
                ('scope', models.CharField(choices=[('all', 'all'), ('items', 'items')], max_length=10)),
                ('items', models.JSONField(default=list)),
                ('explained', models.TextField(blank=True)),
                ('work_done', models.JSONField(default=list)),
                ('paid_cents', models.BigIntegerField(default=0)),
                ('earned_cents', models.BigIntegerField(default=0)),
                ('refund_cents', models.BigIntegerField(default=0)),
                ('due_cents', models.BigIntegerField(default=0)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('consent', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='withdrawals', to='letters.consent')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('consent', 'id'),
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('words', ''), _negated=True), models.Q(('said_by', ''), _negated=True), ('scope__in', ('all', 'items'))), name='withdrawn_in_words')],
            },
        ),
    ]
